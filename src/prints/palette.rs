//! Picking the few colours that a drawing is printed with.
//!
//! A drawing has a handful of inks and, along every edge, their blends with the paper. Sixteen colours show these well
//! and pack two dots in a byte. All arithmetic is on whole numbers, and nothing is walked in the order of a hash: the
//! same drawing gets the same colours everywhere.

/// As many as half a byte tells apart.
pub const MOST: usize = 16;

/// A colour: red, green, blue.
pub type Rgb = [u8; 3];

/// Colours with how many dots have them. Built by counting; holds every colour once.
#[derive(Clone, Debug)]
pub struct Tally {
    /// Open addressing over `colours`: index + 1, or 0 for an empty place. Its length is a power of two.
    places: Vec<u32>,
    colours: Vec<(Rgb, u64)>,
}

impl Default for Tally {
    fn default() -> Self {
        Tally { places: vec![0; 4096], colours: Vec::new() }
    }
}

fn scatter(colour: Rgb) -> usize {
    let key = u32::from_le_bytes([colour[0], colour[1], colour[2], 0]);
    (key.wrapping_mul(0x9E37_79B1) >> 8) as usize
}

impl Tally {
    /// Counts dots of a colour, and gives the colour's number.
    pub fn count(&mut self, colour: Rgb, dots: u64) -> usize {
        let mask = self.places.len() - 1;
        let mut at = scatter(colour) & mask;
        loop {
            match self.places[at] {
                0 => break,
                n => {
                    let n = n as usize - 1;
                    if self.colours[n].0 == colour {
                        self.colours[n].1 += dots;
                        return n;
                    }
                }
            }
            at = (at + 1) & mask;
        }
        self.colours.push((colour, dots));
        self.places[at] = self.colours.len() as u32;
        if self.places.len() < 2 * self.colours.len() {
            self.grow();
        }
        self.colours.len() - 1
    }

    fn grow(&mut self) {
        let mut places = vec![0; 4 * self.places.len()];
        let mask = places.len() - 1;
        for (n, (colour, _)) in self.colours.iter().enumerate() {
            let mut at = scatter(*colour) & mask;
            while places[at] != 0 {
                at = (at + 1) & mask;
            }
            places[at] = n as u32 + 1;
        }
        self.places = places;
    }

    /// Counts one more dot of the colour with this number.
    pub fn add(&mut self, number: usize) {
        self.colours[number].1 += 1;
    }

    /// How many colours there are.
    pub fn colours(&self) -> usize {
        self.colours.len()
    }
}

/// At most [`MOST`] colours, and which of them stands for each colour of the tally, by its number.
pub fn pick(tally: &Tally) -> (Vec<Rgb>, Vec<u8>) {
    let colours = &tally.colours;
    if colours.is_empty() {
        return (vec![[255; 3]], Vec::new());
    }
    // The most common colours come first, so that inks and paper are taken as they are; of two as common, the darker.
    let mut order: Vec<usize> = (0..colours.len()).collect();
    order.sort_by(|a, b| colours[*b].1.cmp(&colours[*a].1).then(colours[*a].0.cmp(&colours[*b].0)));
    let mut chosen: Vec<Rgb> = vec![colours[order[0]].0];
    let mut off: Vec<u64> = colours.iter().map(|(colour, _)| distance(*colour, chosen[0])).collect();
    while chosen.len() < MOST {
        // Whatever is worst served now: by how far off and by how many dots, the latter damped so that thin lines count.
        let weight = |n: usize| off[n] * dots_damped(colours[n].1);
        let Some(worst) = order.iter().copied().max_by(|a, b| weight(*a).cmp(&weight(*b)).then(b.cmp(a))) else {
            break;
        };
        if off[worst] == 0 {
            break;
        }
        let next = colours[worst].0;
        chosen.push(next);
        for (n, (colour, _)) in colours.iter().enumerate() {
            off[n] = off[n].min(distance(*colour, next));
        }
    }
    let nearest = |colour: Rgb| (0..chosen.len()).min_by_key(|n| distance(colour, chosen[*n])).unwrap_or(0) as u8;
    let stands = colours.iter().map(|(colour, _)| nearest(*colour)).collect();
    (chosen, stands)
}

/// The square root of a number of dots, whole.
fn dots_damped(dots: u64) -> u64 {
    dots.isqrt().max(1)
}

/// How far apart two colours look, squared: weighted as the eye weighs red, green and blue (ITU-R BT.601 has 0.299,
/// 0.587 and 0.114; here 3, 6 and 1).
fn distance(a: Rgb, b: Rgb) -> u64 {
    let part = |i: usize| {
        let d = i64::from(a[i]) - i64::from(b[i]);
        (d * d) as u64
    };
    3 * part(0) + 6 * part(1) + part(2)
}
