//! Discretisation of the lines: four chains of nodes that meet at the clip.
//! In: numbers of pieces. Out: index ranges. Knows no forces.

/// Most nodes a rig may have (fixed arrays; nothing is allocated while stepping). As many as the
/// finest mesh in use has: arrays of nodes are copied in every step.
pub(crate) const MAX_NODES: usize = 44;
/// One piece more than nodes, as two chains start at a rod tip.
pub(crate) const MAX_PIECES: usize = MAX_NODES + 1;

/// Numbers of straight pieces each stretch of line is cut into.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mesh {
    kite_below: u8,
    kite_above: u8,
    reel: u8,
    hang: u8,
    leader: u8,
}

/// One chain from its outer end to the clip.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Chain {
    /// First node (outermost free node).
    pub(crate) first: usize,
    /// Free nodes, the clip not counted.
    pub(crate) nodes: usize,
    /// First piece.
    pub(crate) first_piece: usize,
    /// Starts at a rod tip.
    pub(crate) anchored: bool,
}

impl Chain {
    pub(crate) fn pieces(&self) -> usize {
        self.nodes + usize::from(self.anchored)
    }
}

/// Chains by name, in the order of [`Mesh::chains`].
pub(crate) const KITE_BELOW: usize = 0;
pub(crate) const KITE_ABOVE: usize = 1;
pub(crate) const REEL: usize = 2;
pub(crate) const HANG: usize = 3;

impl Mesh {
    /// The mesh in use; the table in the module head of `rig` shows its accuracy and cost.
    pub const SHIPPED: Self = Self {
        kite_below: 3,
        kite_above: 1,
        reel: 6,
        hang: 6,
        leader: 3,
    };

    /// The mesh of the forecast, where particles and futures differ by metres and there are many of
    /// them. Half the cost of [`Self::SHIPPED`] and the same error beside a run with a fine mesh and
    /// short steps, because there the step size dominates (table in the module head of `rig`).
    pub const COARSE: Self = Self {
        kite_below: 1,
        kite_above: 1,
        reel: 3,
        hang: 2,
        leader: 1,
    };

    /// At least twice as fine, for trims in which the lines bow so much that the shipped mesh finds
    /// no balance.
    pub const FINE: Self = Self {
        kite_below: 6,
        kite_above: 2,
        reel: 14,
        hang: 16,
        leader: 5,
    };

    pub(crate) fn chains(&self) -> [Chain; 4] {
        let below = usize::from(self.kite_below) - 1;
        let above = usize::from(self.kite_above);
        let reel = usize::from(self.reel) - 1;
        let hang = usize::from(self.hang) + usize::from(self.leader);
        [
            Chain {
                first: 0,
                nodes: below,
                first_piece: 0,
                anchored: true,
            },
            Chain {
                first: below,
                nodes: above,
                first_piece: below + 1,
                anchored: false,
            },
            Chain {
                first: below + above,
                nodes: reel,
                first_piece: below + above + 1,
                anchored: true,
            },
            Chain {
                first: below + above + reel,
                nodes: hang,
                first_piece: below + above + reel + 2,
                anchored: false,
            },
        ]
    }

    pub(crate) fn kite(&self) -> usize {
        usize::from(self.kite_below) - 1
    }

    pub(crate) fn bait(&self) -> usize {
        self.kite() + usize::from(self.kite_above) + usize::from(self.reel) - 1
    }

    pub(crate) fn marker(&self) -> usize {
        self.bait() + usize::from(self.leader)
    }

    pub(crate) fn clip(&self) -> usize {
        self.marker() + usize::from(self.hang)
    }

    pub(crate) fn nodes(&self) -> usize {
        self.clip() + 1
    }

    pub(crate) fn pieces(&self) -> usize {
        self.nodes() + 1
    }

    pub(crate) fn kite_below(&self) -> f64 {
        f64::from(self.kite_below)
    }

    pub(crate) fn kite_above(&self) -> f64 {
        f64::from(self.kite_above)
    }

    pub(crate) fn reel(&self) -> f64 {
        f64::from(self.reel)
    }

    pub(crate) fn hang(&self) -> f64 {
        f64::from(self.hang)
    }

    pub(crate) fn leader_pieces(&self) -> usize {
        usize::from(self.leader)
    }

    pub(crate) fn leader(&self) -> f64 {
        f64::from(self.leader)
    }
}
