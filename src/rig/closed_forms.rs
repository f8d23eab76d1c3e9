//! The pieces of line that the rig uses, against closed forms: a line between two fixed points, in
//! its own weight or in a uniform wind, solved with the forces and derivatives the rig uses.

use super::air::{AirField, Profile};
use super::piece::{Piece, PieceInput, piece};
use super::seaway::STILL;
use super::vector::{V3, add, norm, scale, sub};

/// A line hung between two points.
struct Hung {
    nodes: Vec<V3>,
    /// Tension at the outer and inner end.
    ends: [f64; 2],
    tension: Vec<f64>,
}

struct Line {
    a: V3,
    b: V3,
    length: f64,
    weight_per_m: f64,
    air_drag: f64,
    wind: [f64; 2],
}

/// Newton's equations for the moves of the inner nodes; the last column is the right-hand side.
fn equations(pieces: &[Piece]) -> Vec<Vec<f64>> {
    let n = pieces.len();
    let free = 3 * (n - 1);
    let mut m = vec![vec![0.0; free + 1]; free];
    for (i, p) in pieces.iter().enumerate() {
        let blocks = [
            (i, i, &p.aa),
            (i, i + 1, &p.ab),
            (i + 1, i, &p.ba),
            (i + 1, i + 1, &p.bb),
        ];
        for (row, col, block) in blocks {
            if (1..n).contains(&row) && (1..n).contains(&col) {
                for r in 0..3 {
                    for c in 0..3 {
                        m[3 * (row - 1) + r][3 * (col - 1) + c] += block[r][c];
                    }
                }
            }
        }
        let (fa, fb) = (add(p.on_a, p.holding), sub(p.on_b, p.holding));
        for (row, f) in [(i, fa), (i + 1, fb)] {
            if (1..n).contains(&row) {
                for r in 0..3 {
                    m[3 * (row - 1) + r][free] -= f[r];
                }
            }
        }
    }
    m
}

/// Dense Gaussian elimination with partial pivoting.
fn eliminate(mut m: Vec<Vec<f64>>) -> Vec<f64> {
    let free = m.len();
    for k in 0..free {
        let best = (k..free)
            .max_by(|&i, &j| m[i][k].abs().total_cmp(&m[j][k].abs()))
            .unwrap();
        m.swap(k, best);
        for i in k + 1..free {
            let f = m[i][k] / m[k][k];
            for j in k..=free {
                m[i][j] -= f * m[k][j];
            }
        }
    }
    let mut move_by = vec![0.0; free];
    for k in (0..free).rev() {
        let rest: f64 = (k + 1..free).map(|j| m[k][j] * move_by[j]).sum();
        move_by[k] = (m[k][free] - rest) / m[k][k];
    }
    move_by
}

/// Solves `line` cut into `n` pieces with plain dense elimination.
fn hang(line: &Line, n: usize, first_tension: f64, bow: V3) -> Hung {
    let profile = Profile::new(0.0);
    let air = AirField {
        profile: &profile,
        wind_10m: line.wind,
        current: [0.0; 2],
    };
    let mut x: Vec<V3> = (0..=n)
        .map(|i| {
            let s = i as f64 / n as f64;
            add(
                add(line.a, scale(sub(line.b, line.a), s)),
                scale(bow, 4.0 * s * (1.0 - s)),
            )
        })
        .collect();
    let mut tension = vec![first_tension; n];
    let mut ends = [0.0; 2];
    for _ in 0..200 {
        let pieces: Vec<Piece> = (0..n)
            .map(|i| {
                piece(
                    &air,
                    &PieceInput {
                        a: x[i],
                        b: x[i + 1],
                        velocity_a: [0.0; 3],
                        velocity_b: [0.0; 3],
                        rate: 0.0,
                        tension: tension[i],
                        length: line.length / n as f64,
                        weight_per_m: line.weight_per_m,
                        air_drag: line.air_drag,
                        water_drag: 0.0,
                        buoyancy: 0.0,
                        waters: [&STILL; 2],
                    },
                )
            })
            .collect();
        ends = [norm(pieces[0].on_a), norm(pieces[n - 1].on_b)];
        let move_by = eliminate(equations(&pieces));
        let largest = move_by.iter().fold(0.0f64, |a, b| a.max(b.abs()));
        let share = (0.05 * line.length / largest).min(1.0);
        let at = |i: usize| -> V3 {
            if (1..n).contains(&i) {
                [move_by[3 * i - 3], move_by[3 * i - 2], move_by[3 * i - 1]]
            } else {
                [0.0; 3]
            }
        };
        for i in 0..n {
            let p = &pieces[i];
            let excess = p.excess_m
                + super::vector::dot(p.excess_by_a, at(i))
                + super::vector::dot(p.excess_by_b, at(i + 1));
            tension[i] = (tension[i] + share * p.stiffness * excess).max(0.0);
        }
        for (i, place) in x.iter_mut().enumerate() {
            *place = add(*place, scale(at(i), share));
        }
        if largest < 1e-10 {
            return Hung {
                nodes: x,
                ends,
                tension,
            };
        }
    }
    Hung {
        nodes: x,
        ends,
        tension,
    }
}

fn close(value: f64, want: f64, relative: f64, what: &str) {
    assert!(
        (value / want - 1.0).abs() <= relative,
        "{what}: {value} against {want}, off by {:.2e}",
        value / want - 1.0
    );
}

#[test]
fn deep_catenary() {
    // Statics course sheet "6.7 Cables: Catenaries", recomputed: line 140 m of 3 kg/m between
    // towers 120 m apart at equal height: c 61.445730 m, sag 31.697051 m, Tmax 2741.19 N.
    let h = hang(
        &Line {
            a: [0.0, 0.0, 100.0],
            b: [120.0, 0.0, 100.0],
            length: 140.0,
            weight_per_m: 3.0 * 9.81,
            air_drag: 0.0,
            wind: [0.0; 2],
        },
        // 10 pieces leave 1.2e-3 in the tension: this line turns by 2.3 radians, far more than
        // ours.
        16,
        2000.0,
        [0.0, 0.0, -30.0],
    );
    close(100.0 - h.nodes[8][2], 31.697_051, 1e-3, "sag");
    close(h.ends[0], 2741.19, 1e-3, "greatest tension");
    close(h.ends[1], 2741.19, 1e-3, "greatest tension, other end");
}

#[test]
fn shallow_catenary_is_the_parabola() {
    // Own arithmetic: L 60 m, H 5 N, w 0.002943 N/m: sag 0.264877 m (catenary),
    // 0.264870 m (parabola H = w L^2 / (8 h)).
    let (w, horizontal): (f64, f64) = (0.002_943, 5.0);
    let c = horizontal / w;
    let h = hang(
        &Line {
            a: [0.0, 0.0, 50.0],
            b: [60.0, 0.0, 50.0],
            length: 2.0 * c * (30.0 / c).sinh(),
            weight_per_m: w,
            air_drag: 0.0,
            wind: [0.0; 2],
        },
        4,
        5.0,
        [0.0, 0.0, -0.2],
    );
    close(50.0 - h.nodes[2][2], 0.264_877, 1e-3, "sag");
    close(50.0 - h.nodes[2][2], 0.264_870, 1e-3, "sag of the parabola");
    close(h.tension[1], 5.0, 1e-3, "tension");
}

#[test]
fn inclined_catenary() {
    // Own arithmetic from the closed form of the catenary: upper end T 20 N at 50 degrees, s 60 m,
    // w 0.002943 N/m: x 38.698060 m, y 45.852484 m, lower tension 19.865056 N. So taut a line feels
    // a change of its span in the seventh digit, so the span is computed from the formula and only
    // compared with these digits.
    let (w, s): (f64, f64) = (0.002_943, 60.0);
    let (sin, cos) = 50f64.to_radians().sin_cos();
    let (across, up) = (20.0 * cos, 20.0 * sin);
    let below = up - w * s;
    let c = across / w;
    let x = c * ((up / across).asinh() - (below / across).asinh());
    let y = c * ((1.0 + (up / across).powi(2)).sqrt() - (1.0 + (below / across).powi(2)).sqrt());
    close(x, 38.698_060, 1e-7, "span");
    close(y, 45.852_484, 1e-7, "rise");
    let h = hang(
        &Line {
            a: [0.0, 0.0, 10.0],
            b: [x, 0.0, 10.0 + y],
            length: s,
            weight_per_m: w,
            air_drag: 0.0,
            wind: [0.0; 2],
        },
        3,
        18.0,
        [0.02, 0.0, -0.02],
    );
    close(h.ends[0], 19.865_056, 1e-3, "lower tension");
    close(h.ends[1], 20.0, 1e-3, "upper tension");
    // Exact property of a catenary: the tensions differ by weight times height.
    close(h.ends[1] - h.ends[0], 0.134_944, 1e-3, "difference");
}

#[test]
fn weightless_line_in_a_cross_wind() {
    // Cross-flow drag c V^2 sin^2 keeps T and turns the line by cot(angle) = c V^2 s / T, so it
    // hangs in the catenary of parameter T / (c V^2) (own derivation from the law).
    let c_v2 = 0.5 * 1.225 * 1.1 * 0.0008 * 12.0 * 12.0;
    let parameter: f64 = 50.0;
    let length = 2.0 * parameter * 1.0f64.sinh();
    let depth = parameter * (1.0f64.cosh() - 1.0);
    for (n, allowed) in [(4, 5e-3), (8, 1e-3)] {
        let h = hang(
            &Line {
                a: [0.0, -50.0, 50.0],
                b: [0.0, 50.0, 50.0],
                length,
                weight_per_m: 0.0,
                air_drag: 0.5 * 1.225 * 1.1 * 0.0008,
                wind: [12.0, 0.0],
            },
            n,
            3.0,
            [25.0, 0.0, 0.0],
        );
        close(h.ends[0], parameter * c_v2, allowed, "tension");
        close(h.nodes[n / 2][0], depth, allowed, "depth");
    }
}

#[test]
fn inclined_straight_line_drag() {
    // Own arithmetic, F = 0.5 rho C v^2 d L sin^2: rho 1.225, C 1.1, 8 m/s, d 0.6 mm, 30 m of line
    // at 90, 60, 45, 30 degrees to the wind: 0.776160, 0.582120, 0.388080, 0.194040 N.
    let profile = Profile::new(0.0);
    let air = AirField {
        profile: &profile,
        wind_10m: [8.0, 0.0],
        current: [0.0; 2],
    };
    for (degrees, want) in [
        (90.0f64, 0.776_160),
        (60.0, 0.582_120),
        (45.0, 0.388_080),
        (30.0, 0.194_040),
    ] {
        let (s, c) = degrees.to_radians().sin_cos();
        let p = piece(
            &air,
            &PieceInput {
                a: [0.0, 0.0, 20.0],
                b: [30.0 * c, 30.0 * s, 20.0],
                velocity_a: [0.0; 3],
                velocity_b: [0.0; 3],
                rate: 0.0,
                // So tight that it does not bow.
                tension: 1e9,
                length: 30.0,
                weight_per_m: 0.0,
                air_drag: 0.5 * 1.225 * 1.1 * 0.0006,
                water_drag: 0.0,
                buoyancy: 0.0,
                waters: [&STILL; 2],
            },
        );
        // Tension cancels in the sum of both ends.
        close(norm(add(p.on_a, p.on_b)), want, 1e-5, "drag");
    }
}

/// Derivatives of a piece against differences of its forces.
#[test]
fn derivatives_agree_with_differences() {
    let profile = Profile::new(0.11);
    let air = AirField {
        profile: &profile,
        wind_10m: [6.0, -3.0],
        current: [0.3, 0.1],
    };
    for (za, zb) in [(20.0, 26.0), (-0.4, 1.1)] {
        let mut input = PieceInput {
            a: [1.0, 2.0, za],
            b: [4.0, 3.5, zb],
            velocity_a: [2.0, 0.5, 0.1],
            velocity_b: [1.5, 0.2, -0.1],
            rate: 4.0,
            tension: 60.0,
            length: 6.5,
            weight_per_m: 0.004,
            air_drag: 5e-4,
            water_drag: 0.4,
            buoyancy: 0.005,
            waters: [&STILL; 2],
        };
        // Newton's method closes in where the length fits, so the derivatives are those there.
        for _ in 0..5 {
            input.length += piece(&air, &input).excess_m;
        }
        // Force with the tension the constraint brings in one step.
        let force = |i: &PieceInput<'_>| {
            let p = piece(&air, i);
            (add(p.on_a, p.holding), sub(p.on_b, p.holding))
        };
        let p = piece(&air, &input);
        let (fa, fb) = force(&input);
        for k in 0..3 {
            let step = 1e-6;
            for end in 0..2 {
                let mut moved = input;
                let (place, velocity) = if end == 0 {
                    (&mut moved.a, &mut moved.velocity_a)
                } else {
                    (&mut moved.b, &mut moved.velocity_b)
                };
                place[k] += step;
                velocity[k] += step * input.rate;
                let (ga, gb) = force(&moved);
                let (da, db) = if end == 0 {
                    (&p.aa, &p.ba)
                } else {
                    (&p.ab, &p.bb)
                };
                let scale_n = norm([p.aa[0][0], p.aa[1][1], p.aa[2][2]]);
                for r in 0..3 {
                    let got_a = (ga[r] - fa[r]) / step;
                    let got_b = (gb[r] - fb[r]) / step;
                    assert!(
                        (got_a - da[r][k]).abs() < 2e-2 * scale_n,
                        "a row {r} by {k} of end {end}: {got_a} {}",
                        da[r][k]
                    );
                    assert!(
                        (got_b - db[r][k]).abs() < 2e-2 * scale_n,
                        "b row {r} by {k} of end {end}: {got_b} {}",
                        db[r][k]
                    );
                }
            }
        }
    }
}

#[test]
fn catenaries_of_a_mooring_library() {
    // tests/mooring/catenary.json: computed with the library named there by the script beside it.
    let text = include_str!("../../tests/mooring/catenary.json");
    let file: serde_json::Value = serde_json::from_str(text).unwrap();
    for case in file["cases"].as_array().unwrap() {
        let number = |key: &str| case[key].as_f64().unwrap();
        let (span, rise, length) = (number("span_m"), number("rise_m"), number("length_m"));
        let weight = number("weight_n_per_m");
        // Start from the parabola of that length, hung below the chord.
        let chord = span.hypot(rise);
        let sag = (0.375 * chord * (length - chord)).sqrt() / chord;
        let h = hang(
            &Line {
                a: [0.0, 0.0, 200.0],
                b: [span, 0.0, 200.0 + rise],
                length,
                weight_per_m: weight,
                air_drag: 0.0,
                wind: [0.0; 2],
            },
            // The third turns sharply at its slack lower end; 16 pieces leave 3e-3 there.
            40,
            weight * length,
            [sag * rise, 0.0, -sag * span],
        );
        close(h.ends[0], number("lower_n"), 1e-3, "lower tension");
        close(h.ends[1], number("upper_n"), 1e-3, "upper tension");
    }
}
