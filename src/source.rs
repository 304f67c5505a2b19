//! Files with positions.
//!
//! Knows nothing of guides or electricity. Positions are byte offsets into the text; lines and
//! columns are worked out only when somebody is shown one. A column counts characters, so that an
//! editor's own column agrees with it after a `°` or a `²`.

use std::sync::Arc;

/// A stretch of a file, in bytes. `start <= end`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

impl Span {
    /// The span from `start` up to but not including `end`.
    pub const fn new(start: usize, end: usize) -> Span {
        Span { start, end }
    }
}

/// A value and where in the file it was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Placed<T> {
    /// What was read.
    pub value: T,
    /// Where it stands.
    pub at: Span,
}

impl<T> Placed<T> {
    /// `value`, written at `at`.
    pub const fn new(value: T, at: Span) -> Placed<T> {
        Placed { value, at }
    }

    /// The same place with another value.
    pub fn map<U>(self, f: impl FnOnce(T) -> U) -> Placed<U> {
        Placed { value: f(self.value), at: self.at }
    }
}

impl<T> std::ops::Deref for Placed<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.value
    }
}

/// A line and a column, both counted from 1; the column counts characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LineColumn {
    /// Line, from 1.
    pub line: usize,
    /// Character within the line, from 1.
    pub column: usize,
}

/// One file's text and the name under which people know it.
#[derive(Clone, Debug)]
pub struct SourceFile {
    /// The path as shown to people, with forward slashes.
    pub path: Arc<str>,
    /// The whole text.
    pub text: Arc<str>,
    line_starts: Arc<[usize]>,
}

impl SourceFile {
    /// Takes a file's path and text.
    pub fn new(path: impl Into<Arc<str>>, text: impl Into<Arc<str>>) -> SourceFile {
        let text: Arc<str> = text.into();
        let line_starts = std::iter::once(0)
            .chain(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(i, _)| i + 1))
            .collect();
        SourceFile { path: path.into(), text, line_starts }
    }

    /// The line and column of a byte offset; an offset past the end gives the end.
    pub fn line_column(&self, offset: usize) -> LineColumn {
        let offset = self.floor_boundary(offset);
        let line = self.line_starts.partition_point(|start| *start <= offset);
        let start = self.line_starts[line - 1];
        LineColumn { line, column: self.text[start..offset].chars().count() + 1 }
    }

    /// The text of a line counted from 1, without its line end. Empty when there is no such line.
    pub fn line(&self, line: usize) -> &str {
        let Some(start) = line.checked_sub(1).and_then(|i| self.line_starts.get(i)) else { return "" };
        let end = self.line_starts.get(line).copied().unwrap_or(self.text.len());
        self.text[*start..end].trim_end_matches(['\n', '\r'])
    }

    /// The text at a span; empty when the span does not lie in the file.
    pub fn at(&self, span: Span) -> &str {
        self.text.get(span.start..span.end).unwrap_or("")
    }

    fn floor_boundary(&self, offset: usize) -> usize {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        offset
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters_not_bytes() {
        let file = SourceFile::new("a.md", "one\n60 °C, 50 mm²\r\nend");
        let degree_c = file.text.find('C').unwrap();
        assert_eq!(file.line_column(degree_c), LineColumn { line: 2, column: 5 });
        assert_eq!(file.line(2), "60 °C, 50 mm²");
        assert_eq!(file.line(9), "");
        assert_eq!(file.line_column(9999), LineColumn { line: 3, column: 4 });
    }
}
