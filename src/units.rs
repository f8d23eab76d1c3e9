//! uom at the borders.
