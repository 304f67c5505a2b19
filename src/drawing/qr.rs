//! A QR code (ISO/IEC 18004) that leads from the paper on the garage wall to the guide's page.
//!
//! Which modules are dark is worked out by a library; this draws them.

use qrcode::{Color, EcLevel, QrCode};

use super::svg_out::{Canvas, INK};

/// Clear modules that the standard wants on every side.
const QUIET: usize = 4;

/// The smallest module that a phone reads from print at arm's length, in mm (common practice, no source).
const LEAST: f64 = 0.4;

/// Dark and light modules.
pub struct Code {
    width: usize,
    dark: Vec<bool>,
}

impl Code {
    /// The code of an address. `None` when the address is too long for a code that could be read.
    pub fn of(address: &str) -> Option<Code> {
        let code = QrCode::with_error_correction_level(address, EcLevel::M).ok()?;
        let dark = code.to_colors().into_iter().map(|c| c == Color::Dark).collect();
        let code = Code { width: code.width(), dark };
        (code.module(MOST) >= LEAST).then_some(code)
    }

    /// The width of a module when the code with its quiet zone fills `size`: in hundredths of a millimetre, so that
    /// all are equal.
    fn module(&self, size: f64) -> f64 {
        let modules = (self.width + 2 * QUIET) as f64;
        (100.0 * size / modules + 1e-9).floor() / 100.0
    }

    /// Draws it in a square of `size`, its quiet zone included.
    pub fn draw(&self, canvas: &mut Canvas, address: &str, (x, y): (f64, f64), size: f64) {
        let module = self.module(size);
        let edge = (size - module * self.width as f64) / 2.0;
        let at = |n: usize| (100.0 * edge).round() / 100.0 + module * n as f64;
        canvas.open("code", &format!("QR code: {address}"));
        let mut cells = Vec::new();
        for (row, line) in self.dark.chunks(self.width).enumerate() {
            let mut start = 0;
            for stretch in line.chunk_by(|a, b| a == b) {
                let stop = start + stretch.len();
                if stretch[0] {
                    cells.push((x + at(start), y + at(row), module * stretch.len() as f64, module));
                }
                start = stop;
            }
        }
        canvas.cells(&cells, INK);
        let area = canvas.area(x, y, x + size, y + size);
        canvas.geometry.cards.push(area);
        canvas.close();
    }
}

/// The largest square that a sheet has for a code, in mm.
pub const MOST: f64 = super::sheet::BLOCK_HEIGHT;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_that_could_not_be_read_is_not_drawn() {
        assert!(Code::of("https://bench.example/start-battery-behind-the-bulkhead/").is_some());
        assert!(Code::of(&format!("https://bench.example/{}", "long-".repeat(60))).is_none());
        assert!(Code::of(&"x".repeat(5000)).is_none());
    }
}
