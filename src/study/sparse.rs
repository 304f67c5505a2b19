//! Symmetric equations of networks, by elimination in an order that keeps them thin.
//!
//! A wiring circuit is nearly a tree: eliminating the node with the fewest neighbours first (minimum
//! degree, Tinney and Walker, Proc. IEEE 55 (1967) 1801-1809) fills in next to nothing, so that one
//! solution costs a few operations a node, where a dense one costs the cube of their number.

/// The factors L D Lᵀ of a symmetric positive matrix of conductances.
#[derive(Clone, Debug)]
pub struct Factor {
    /// Nodes in the order of their elimination.
    order: Vec<usize>,
    /// By place in the order: where its column of L starts in `entries`.
    starts: Vec<usize>,
    /// Columns of L below the diagonal: row and value.
    entries: Vec<(usize, f64)>,
    /// By place in the order.
    pivots: Vec<f64>,
}

/// A matrix while it is put together: the diagonal, and for each row its few neighbours.
#[derive(Clone, Debug)]
pub struct Matrix {
    diagonal: Vec<f64>,
    rows: Vec<Vec<(usize, f64)>>,
}

impl Matrix {
    /// A matrix of nothing.
    pub fn new(size: usize) -> Matrix {
        // Few nodes of a wiring circuit have more than four neighbours.
        Matrix { diagonal: vec![0.0; size], rows: (0..size).map(|_| Vec::with_capacity(4)).collect() }
    }

    /// Adds to the diagonal.
    pub fn add_diagonal(&mut self, i: usize, value: f64) {
        self.diagonal[i] += value;
    }

    /// Adds to both entries off the diagonal.
    pub fn add(&mut self, i: usize, j: usize, value: f64) {
        for (i, j) in [(i, j), (j, i)] {
            match self.rows[i].iter_mut().find(|(n, _)| *n == j) {
                Some((_, v)) => *v += value,
                None => self.rows[i].push((j, value)),
            }
        }
    }

    /// Factors it. `None` when a pivot is not positive: the matrix is singular, or the network has no
    /// stable point.
    pub fn factor(mut self) -> Option<Factor> {
        let size = self.diagonal.len();
        let mut factor = Factor {
            order: Vec::with_capacity(size),
            starts: Vec::with_capacity(size + 1),
            entries: Vec::with_capacity(3 * size),
            pivots: Vec::with_capacity(size),
        };
        /// The neighbours of a node that is gone.
        const GONE: usize = usize::MAX;
        let mut neighbours: Vec<usize> = self.rows.iter().map(Vec::len).collect();
        for _ in 0..size {
            // The lowest number among equals, so that the order is the same on every run.
            let (mut node, mut fewest) = (0, GONE);
            for (n, count) in neighbours.iter().enumerate() {
                if *count < fewest {
                    (node, fewest) = (n, *count);
                }
            }
            neighbours[node] = GONE;
            let pivot = self.diagonal[node];
            if pivot.is_nan() || pivot <= 0.0 {
                return None;
            }
            let row = std::mem::take(&mut self.rows[node]);
            factor.order.push(node);
            factor.starts.push(factor.entries.len());
            factor.pivots.push(pivot);
            for (k, (i, a)) in row.iter().enumerate() {
                // The order of a row is that of its entries' making, which no answer rests on but for rounding: the
                // same on every run.
                if let Some(place) = self.rows[*i].iter().position(|(n, _)| *n == node) {
                    self.rows[*i].swap_remove(place);
                }
                factor.entries.push((*i, a / pivot));
                self.diagonal[*i] -= a * a / pivot;
                for (j, b) in &row[k + 1..] {
                    self.add(*i, *j, -a * b / pivot);
                }
            }
            for (i, _) in &row {
                neighbours[*i] = self.rows[*i].len();
            }
        }
        factor.starts.push(factor.entries.len());
        Some(factor)
    }
}

impl Factor {
    /// Solves for one right side, in place.
    pub fn solve(&self, x: &mut [f64]) {
        for (place, node) in self.order.iter().enumerate() {
            let value = x[*node];
            if value != 0.0 {
                for (row, l) in &self.entries[self.starts[place]..self.starts[place + 1]] {
                    x[*row] -= l * value;
                }
            }
        }
        for (place, node) in self.order.iter().enumerate().rev() {
            let mut value = x[*node] / self.pivots[place];
            for (row, l) in &self.entries[self.starts[place]..self.starts[place + 1]] {
                value -= l * x[*row];
            }
            x[*node] = value;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    #[test]
    fn it_solves_what_a_general_library_solves() {
        // 200 random networks of 2 to 30 nodes against nalgebra's LU.
        let mut seed = 1u64;
        let mut next = || {
            seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            ((seed >> 33) as f64) / f64::from(1u32 << 31)
        };
        for _ in 0..200 {
            let size = 2 + (next() * 29.0) as usize;
            let mut sparse = Matrix::new(size);
            let mut dense = DMatrix::<f64>::zeros(size, size);
            let mut conduct = |i: usize, j: usize, g: f64| {
                if i == j {
                    sparse.add_diagonal(i, g);
                    dense[(i, i)] += g;
                    return;
                }
                sparse.add_diagonal(i, g);
                sparse.add_diagonal(j, g);
                sparse.add(i, j, -g);
                dense[(i, i)] += g;
                dense[(j, j)] += g;
                dense[(i, j)] -= g;
                dense[(j, i)] -= g;
            };
            for i in 1..size {
                conduct(i, (next() * i as f64) as usize, 10f64.powf(next() * 6.0 - 2.0));
            }
            for _ in 0..size / 2 {
                conduct(
                    (next() * size as f64) as usize,
                    (next() * size as f64) as usize,
                    10f64.powf(next() * 6.0 - 2.0),
                );
            }
            conduct(0, 0, 1.0);
            let right: Vec<f64> = (0..size).map(|_| next() - 0.5).collect();
            let mut x = right.clone();
            sparse.factor().unwrap().solve(&mut x);
            let want = dense.lu().solve(&DVector::from_vec(right)).unwrap();
            let scale = want.amax();
            for i in 0..size {
                assert!((x[i] - want[i]).abs() <= 1e-9 * scale, "{} {}", x[i], want[i]);
            }
        }
    }

    #[test]
    fn a_singular_matrix_is_refused() {
        let mut m = Matrix::new(2);
        m.add_diagonal(0, 1.0);
        m.add_diagonal(1, 1.0);
        m.add(0, 1, -1.0);
        assert!(m.factor().is_none());
    }
}
