//! How few crossings a diagram can have at all: whether its graph is planar.
//!
//! A part is a ring of its terminals that no line may cut; the body is a ring of its bands. What no drawing
//! in the plane can do, no placement can: the search need not look for it. The test is the left-right
//! criterion of de Fraysseix and Rosenstiehl, in the form of U. Brandes, "The left-right planarity test"
//! (2009). Knows no rows and no positions.

use super::model::{Diagram, End, Home};

/// A graph of the diagram's terminals. Some edges are lines, which may be taken out; the others are parts' own.
#[derive(Clone, Debug, Default)]
pub struct Graph {
    vertices: usize,
    /// Edges that no line may cross.
    fixed: Vec<(usize, usize)>,
    /// Lines, a diagram's wires in their order.
    lines: Vec<(usize, usize)>,
}

impl Graph {
    /// The graph of a diagram.
    pub fn of(diagram: &Diagram) -> Graph {
        let mut graph = Graph::default();
        let mut first = Vec::with_capacity(diagram.items.len());
        for item in &diagram.items {
            first.push(graph.vertices);
            // Clockwise: the upper edge from left to right, then the lower one from right to left.
            let mut round: Vec<usize> = (0..item.terms.len()).collect();
            round.sort_by_key(|t| match item.terms[*t].home {
                Home::Top | Home::Free => (0, item.terms[*t].dx),
                Home::Bottom => (1, -item.terms[*t].dx),
            });
            let ring: Vec<usize> = round.iter().map(|t| graph.vertices + t).collect();
            graph.vertices += item.terms.len();
            graph.ring(&ring);
        }
        let mut landed: Vec<usize> = diagram
            .wires
            .iter()
            .flat_map(|wire| wire.ends)
            .filter_map(|end| match end {
                End::Foot(band) => Some(band),
                End::Part(..) => None,
            })
            .collect();
        landed.sort_unstable();
        landed.dedup();
        let foot = graph.vertices;
        graph.vertices += landed.len();
        let ring: Vec<usize> = (foot..graph.vertices).collect();
        graph.ring(&ring);
        let at = |end: End| match end {
            End::Part(item, term) => first[item] + term,
            End::Foot(band) => foot + landed.binary_search(&band).unwrap_or(0),
        };
        graph.lines = diagram.wires.iter().map(|wire| (at(wire.ends[0]), at(wire.ends[1]))).collect();
        graph
    }

    /// Ties vertices together so that they keep their order around, with nothing between.
    fn ring(&mut self, ring: &[usize]) {
        self.fixed.extend(ring.windows(2).map(|w| (w[0], w[1])));
        if let [first, _, .., last] = ring {
            self.fixed.push((*last, *first));
            let hub = self.vertices;
            self.vertices += 1;
            self.fixed.extend(ring.iter().map(|v| (hub, *v)));
        }
    }

    /// No drawing has fewer crossings than this; 0 to `most`. It is the number of lines that must be taken out before
    /// the rest can be drawn without a crossing.
    pub fn least_crossings(&self, most: usize) -> usize {
        let mut without = vec![false; self.lines.len()];
        (0..most).find(|taken| self.planar_without(&mut without, 0, *taken)).unwrap_or(most)
    }

    /// Whether it is planar when so many lines more, from `from` on, are taken out.
    fn planar_without(&self, without: &mut [bool], from: usize, taken: usize) -> bool {
        if taken == 0 {
            let lines = self.lines.iter().zip(&*without).filter(|(_, out)| !**out).map(|(line, _)| *line);
            return planar(self.vertices, self.fixed.iter().copied().chain(lines));
        }
        for line in from..self.lines.len() {
            without[line] = true;
            let planar = self.planar_without(without, line + 1, taken - 1);
            without[line] = false;
            if planar {
                return true;
            }
        }
        false
    }
}

/// Whether a graph can be drawn in the plane without a crossing.
pub fn planar(vertices: usize, edges: impl Iterator<Item = (usize, usize)>) -> bool {
    let mut ends: Vec<(usize, usize)> = edges.filter(|(a, b)| a != b).map(|(a, b)| (a.min(b), a.max(b))).collect();
    ends.sort_unstable();
    ends.dedup();
    let used = {
        let mut seen = vec![false; vertices];
        for (a, b) in &ends {
            (seen[*a], seen[*b]) = (true, true);
        }
        seen.iter().filter(|s| **s).count()
    };
    if used > 2 && ends.len() > 3 * used - 6 {
        return false;
    }
    let mut test = LeftRight::new(vertices, ends);
    (0..vertices).all(|root| {
        if test.height[root] != NONE {
            return true;
        }
        test.height[root] = 0;
        test.orient(root);
        test.nest();
        test.tests(root)
    })
}

const NONE: usize = usize::MAX;

/// Back edges on one side, by the lowest and the highest of them.
#[derive(Clone, Copy)]
struct Interval {
    low: usize,
    high: usize,
}

const EMPTY: Interval = Interval { low: NONE, high: NONE };

impl Interval {
    fn is_empty(self) -> bool {
        self.high == NONE
    }
}

/// Two intervals that must lie on different sides.
#[derive(Clone, Copy)]
struct Pair {
    left: Interval,
    right: Interval,
}

struct LeftRight {
    /// Edges; once oriented, from the first end to the second.
    ends: Vec<(usize, usize)>,
    oriented: Vec<bool>,
    /// Edges at each vertex.
    at: Vec<Vec<usize>>,
    /// Edges out of each vertex.
    out: Vec<Vec<usize>>,
    height: Vec<usize>,
    parent: Vec<usize>,
    low: Vec<usize>,
    low2: Vec<usize>,
    nesting: Vec<usize>,
    next: Vec<usize>,
    low_edge: Vec<usize>,
    bottom: Vec<usize>,
    stack: Vec<Pair>,
}

impl LeftRight {
    fn new(vertices: usize, ends: Vec<(usize, usize)>) -> LeftRight {
        let mut at = vec![Vec::new(); vertices];
        for (e, (a, b)) in ends.iter().enumerate() {
            at[*a].push(e);
            at[*b].push(e);
        }
        let edges = ends.len();
        LeftRight {
            ends,
            oriented: vec![false; edges],
            at,
            out: vec![Vec::new(); vertices],
            height: vec![NONE; vertices],
            parent: vec![NONE; vertices],
            low: vec![0; edges],
            low2: vec![0; edges],
            nesting: vec![0; edges],
            next: vec![NONE; edges],
            low_edge: vec![NONE; edges],
            bottom: vec![0; edges],
            stack: Vec::new(),
        }
    }

    /// Makes a depth-first tree and finds how low each edge returns.
    fn orient(&mut self, v: usize) {
        let parent = self.parent[v];
        for k in 0..self.at[v].len() {
            let e = self.at[v][k];
            if self.oriented[e] {
                continue;
            }
            self.oriented[e] = true;
            if self.ends[e].0 != v {
                self.ends[e] = (self.ends[e].1, self.ends[e].0);
            }
            self.out[v].push(e);
            let w = self.ends[e].1;
            (self.low[e], self.low2[e]) = (self.height[v], self.height[v]);
            if self.height[w] == NONE {
                self.parent[w] = e;
                self.height[w] = self.height[v] + 1;
                self.orient(w);
            } else {
                self.low[e] = self.height[w];
            }
            self.nesting[e] = 2 * self.low[e] + usize::from(self.low2[e] < self.height[v]);
            if parent != NONE {
                let (low, low2) = (self.low[e], self.low2[e]);
                match low.cmp(&self.low[parent]) {
                    std::cmp::Ordering::Less => {
                        self.low2[parent] = self.low[parent].min(low2);
                        self.low[parent] = low;
                    }
                    std::cmp::Ordering::Greater => self.low2[parent] = self.low2[parent].min(low),
                    std::cmp::Ordering::Equal => self.low2[parent] = self.low2[parent].min(low2),
                }
            }
        }
    }

    /// Sorts the edges out of every vertex by how deep they nest.
    fn nest(&mut self) {
        let LeftRight { out, nesting, .. } = self;
        for edges in out {
            edges.sort_by_key(|e| nesting[*e]);
        }
    }

    /// Whether the back edges below a vertex can be dealt out to two sides.
    fn tests(&mut self, v: usize) -> bool {
        let parent = self.parent[v];
        for k in 0..self.out[v].len() {
            let e = self.out[v][k];
            let w = self.ends[e].1;
            self.bottom[e] = self.stack.len();
            if self.parent[w] == e {
                if !self.tests(w) {
                    return false;
                }
            } else {
                self.low_edge[e] = e;
                self.stack.push(Pair { left: EMPTY, right: Interval { low: e, high: e } });
            }
            if self.low[e] < self.height[v] {
                if k == 0 {
                    self.low_edge[parent] = self.low_edge[e];
                } else if !self.constrain(e, parent) {
                    return false;
                }
            }
        }
        if parent != NONE {
            self.trim(parent);
        }
        true
    }

    fn conflicts(&self, interval: Interval, edge: usize) -> bool {
        !interval.is_empty() && self.low[interval.high] > self.low[edge]
    }

    fn constrain(&mut self, edge: usize, parent: usize) -> bool {
        let mut pair = Pair { left: EMPTY, right: EMPTY };
        // What returns along this edge goes to the right together.
        while let Some(mut top) = self.stack.pop() {
            if !top.left.is_empty() {
                std::mem::swap(&mut top.left, &mut top.right);
            }
            if !top.left.is_empty() {
                return false;
            }
            if self.low[top.right.low] > self.low[parent] {
                if pair.right.is_empty() {
                    pair.right.high = top.right.high;
                } else {
                    self.next[pair.right.low] = top.right.high;
                }
                pair.right.low = top.right.low;
            } else {
                self.next[top.right.low] = self.low_edge[parent];
            }
            if self.stack.len() == self.bottom[edge] {
                break;
            }
        }
        // What conflicts with it from the edges before goes to the left.
        while let Some(top) = self.stack.last().copied() {
            if !self.conflicts(top.left, edge) && !self.conflicts(top.right, edge) {
                break;
            }
            self.stack.pop();
            let mut top = top;
            if self.conflicts(top.right, edge) {
                std::mem::swap(&mut top.left, &mut top.right);
            }
            if self.conflicts(top.right, edge) {
                return false;
            }
            if pair.right.low != NONE {
                self.next[pair.right.low] = top.right.high;
            }
            if top.right.low != NONE {
                pair.right.low = top.right.low;
            }
            if pair.left.is_empty() {
                pair.left.high = top.left.high;
            } else {
                self.next[pair.left.low] = top.left.high;
            }
            pair.left.low = top.left.low;
        }
        if !pair.left.is_empty() || !pair.right.is_empty() {
            self.stack.push(pair);
        }
        true
    }

    /// Drops the back edges that end at the upper end of a tree edge.
    fn trim(&mut self, edge: usize) {
        let u = self.ends[edge].0;
        let height = self.height[u];
        while let Some(top) = self.stack.last() {
            let lowest = match (top.left.is_empty(), top.right.is_empty()) {
                (true, _) => self.low[top.right.low],
                (_, true) => self.low[top.left.low],
                _ => self.low[top.left.low].min(self.low[top.right.low]),
            };
            if lowest != height {
                break;
            }
            self.stack.pop();
        }
        if let Some(mut top) = self.stack.pop() {
            while top.left.high != NONE && self.ends[top.left.high].1 == u {
                top.left.high = self.next[top.left.high];
            }
            if top.left.high == NONE && top.left.low != NONE {
                self.next[top.left.low] = top.right.low;
                top.left.low = NONE;
            }
            while top.right.high != NONE && self.ends[top.right.high].1 == u {
                top.right.high = self.next[top.right.high];
            }
            if top.right.high == NONE && top.right.low != NONE {
                self.next[top.right.low] = top.left.low;
                top.right.low = NONE;
            }
            self.stack.push(top);
        }
        if self.low[edge] < height
            && let Some(top) = self.stack.last()
        {
            let (left, right) = (top.left.high, top.right.high);
            let is_left = left != NONE && (right == NONE || self.low[left] > self.low[right]);
            self.next[edge] = if is_left { left } else { right };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::place::Dice;

    fn complete(n: usize) -> Vec<(usize, usize)> {
        (0..n).flat_map(|a| (0..a).map(move |b| (a, b))).collect()
    }

    fn both(a: usize, b: usize) -> Vec<(usize, usize)> {
        (0..a).flat_map(|x| (0..b).map(move |y| (x, a + y))).collect()
    }

    fn is_planar(n: usize, edges: &[(usize, usize)]) -> bool {
        planar(n, edges.iter().copied())
    }

    #[test]
    fn the_textbook_graphs_are_what_the_textbook_says() {
        // K. Kuratowski, Fund. Math. 15 (1930): K5 and K3,3 are the least that are not planar.
        assert!(is_planar(4, &complete(4)) && !is_planar(5, &complete(5)));
        assert!(is_planar(5, &both(2, 3)) && !is_planar(6, &both(3, 3)));
        for out in 0..10 {
            let mut k5 = complete(5);
            k5.remove(out);
            assert!(is_planar(5, &k5));
        }
        for out in 0..9 {
            let mut k33 = both(3, 3);
            k33.remove(out);
            assert!(is_planar(6, &k33));
        }
        // Petersen's graph is not planar.
        let petersen: Vec<(usize, usize)> =
            (0..5).flat_map(|k| [(k, (k + 1) % 5), (k, k + 5), (5 + k, 5 + (k + 2) % 5)]).collect();
        assert!(!is_planar(10, &petersen));
    }

    /// A triangulation of the plane, its vertices numbered anew by dice.
    fn triangulation(n: usize, dice: &mut Dice) -> Vec<(usize, usize)> {
        let mut edges = vec![(0, 1), (1, 2), (0, 2)];
        let mut faces = vec![[0, 1, 2], [0, 1, 2]];
        for v in 3..n {
            let at = dice.below(faces.len());
            let [a, b, c] = faces.swap_remove(at);
            edges.extend([(a, v), (b, v), (c, v)]);
            faces.extend([[a, b, v], [b, c, v], [a, c, v]]);
        }
        let mut name: Vec<usize> = (0..n).collect();
        for k in 1..n {
            name.swap(k, dice.below(k + 1));
        }
        for k in 1..edges.len() {
            edges.swap(k, dice.below(k + 1));
        }
        edges.iter().map(|(a, b)| (name[*a], name[*b])).collect()
    }

    #[test]
    fn a_triangulation_is_planar_and_with_one_edge_more_it_is_not() {
        let mut dice = Dice::new(5);
        for round in 0..400 {
            let n = 5 + round % 30;
            let mut edges = triangulation(n, &mut dice);
            assert!(is_planar(n, &edges), "{edges:?}");
            let free: Vec<(usize, usize)> = complete(n)
                .into_iter()
                .filter(|(a, b)| !edges.contains(&(*a, *b)) && !edges.contains(&(*b, *a)))
                .collect();
            let Some(more) = free.get(dice.below(free.len())) else { continue };
            // In place of one edge elsewhere the count alone does not tell; broken in two, every edge still counts.
            let mut split: Vec<(usize, usize)> = Vec::new();
            for (e, (a, b)) in edges.iter().enumerate() {
                split.extend([(*a, n + e), (n + e, *b)]);
            }
            let middle = n + edges.len();
            assert!(is_planar(middle, &split));
            split.extend([(more.0, middle), (middle, more.1)]);
            assert!(!is_planar(middle + 1, &split), "{edges:?} and {more:?}");
            edges.push(*more);
            assert!(!is_planar(n, &edges));
        }
    }

    #[test]
    fn as_many_lines_are_taken_out_as_must_be() {
        // The skewness of a complete graph is the number of its edges above 3 n - 6.
        for (n, least) in [(4, 0), (5, 1), (6, 3)] {
            let graph = Graph { vertices: n, fixed: Vec::new(), lines: complete(n) };
            assert_eq!(graph.least_crossings(4), least);
            assert_eq!(graph.least_crossings(2), least.min(2));
        }
        // An edge that is a part's own cannot be taken out.
        let graph = Graph { vertices: 5, fixed: complete(5)[1..].to_vec(), lines: vec![complete(5)[0]] };
        assert_eq!(graph.least_crossings(3), 1);
    }
}
