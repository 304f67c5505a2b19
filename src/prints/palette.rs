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

    /// Every colour with how many dots have it, in the order of their numbers.
    pub fn iter(&self) -> impl Iterator<Item = (Rgb, u64)> + '_ {
        self.colours.iter().copied()
    }
}

/// At most so many colours, no more than [`MOST`], and which of them stands for each colour of the tally, by its number.
pub fn pick(tally: &Tally, most: usize) -> (Vec<Rgb>, Vec<u8>) {
    let colours = &tally.colours;
    if colours.is_empty() {
        return (vec![[255; 3]], Vec::new());
    }
    // The most common colours come first, so that inks and paper are taken as they are; of two as common, the darker.
    let mut order: Vec<usize> = (0..colours.len()).collect();
    order.sort_by(|a, b| colours[*b].1.cmp(&colours[*a].1).then(colours[*a].0.cmp(&colours[*b].0)));
    let mut chosen: Vec<Rgb> = vec![colours[order[0]].0];
    let mut off: Vec<u64> = colours.iter().map(|(colour, _)| distance(*colour, chosen[0])).collect();
    while chosen.len() < most.min(MOST) {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_colours_are_kept_as_they_are() {
        let mut tally = Tally::default();
        let inks = [[255, 255, 255], [26, 26, 26], [163, 22, 26], [31, 78, 140]];
        for (dots, ink) in inks.iter().enumerate() {
            tally.count(*ink, 1000 - dots as u64);
        }
        let (colours, stands) = pick(&tally, MOST);
        for (ink, stand) in inks.iter().zip(&stands) {
            assert_eq!(colours[usize::from(*stand)], *ink);
        }
        assert_eq!(colours.len(), inks.len());
    }

    #[test]
    fn of_many_colours_the_inks_stay_and_blends_go_to_a_near_one() {
        let mut tally = Tally::default();
        let inks = [[255, 255, 255], [26, 26, 26], [163, 22, 26]];
        for ink in inks {
            tally.count(ink, 100_000);
        }
        // Blends with the paper along every edge: far more than the tally's first table holds.
        for ink in inks {
            for share in 1..=254_u64 {
                let blend = ink.map(|c| ((u64::from(c) * share + 255 * (255 - share)) / 255) as u8);
                tally.count(blend, 3);
            }
        }
        for n in 0..5000_u32 {
            tally.count([(n >> 8) as u8, n as u8, 200], 1);
        }
        let (colours, stands) = pick(&tally, MOST);
        assert_eq!(colours.len(), MOST);
        for (number, (colour, _)) in tally.iter().enumerate() {
            let stand = colours[usize::from(stands[number])];
            assert!(inks.iter().all(|ink| *ink != colour) || stand == colour, "the ink {colour:?} became {stand:?}");
            let nearest = colours.iter().map(|one| distance(*one, colour)).min().unwrap();
            assert_eq!(distance(stand, colour), nearest);
        }
        assert_eq!(pick(&tally, MOST), (colours, stands), "the same colours every time");
    }

    #[test]
    fn a_colour_is_counted_once_however_full_the_table() {
        let mut tally = Tally::default();
        for round in 0..2 {
            for n in 0..20_000_u32 {
                let number = tally.count([n as u8, (n >> 8) as u8, 7], 1);
                assert_eq!(number, n as usize, "round {round}");
            }
        }
        assert!(tally.iter().all(|(_, dots)| dots == 2));
    }
}
