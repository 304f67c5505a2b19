//! Addresses on the site: relative, so that the site opens from disk, and safe in a file name.

/// Folders and files that the site makes itself; no guide may be called so.
pub const RESERVED: &[&str] = &["about", "find", "look", "mistake", "rules", "sources", "subjects", "trade-words"];

/// The way from the page at `path` up to the site's root: `""`, `"../"`, `"../../"`.
pub fn to_root(path: &str) -> String {
    "../".repeat(path.matches('/').count())
}

/// A text as part of an address: lower-case letters, digits and single hyphens. Never empty.
pub fn slug(text: &str) -> String {
    let mut slug = String::new();
    for c in text.chars().flat_map(char::to_lowercase) {
        match c {
            c if c.is_ascii_alphanumeric() => slug.push(c),
            'ä' => slug.push_str("ae"),
            'ö' => slug.push_str("oe"),
            'ü' => slug.push_str("ue"),
            'ß' => slug.push_str("ss"),
            c if c.is_alphanumeric() => slug.push_str(&format!("u{:x}", c as u32)),
            _ if slug.is_empty() || slug.ends_with('-') => {}
            _ => slug.push('-'),
        }
    }
    let slug = slug.trim_end_matches('-');
    if slug.is_empty() { "x".into() } else { slug.into() }
}

/// Whether a guide's folder can be an address as it is: lower-case letters, digits, hyphens, and
/// slashes between non-empty parts.
pub fn is_address(folder: &str) -> bool {
    !folder.is_empty()
        && folder.split('/').all(|part| {
            !part.is_empty()
                && !part.starts_with('-')
                && part.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
        })
}

/// A relative file reference made plain: `.` and `..` resolved. `None` when it leaves the folder,
/// is absolute, or holds a character that a plain file name has no use for.
pub fn within_folder(reference: &str) -> Option<String> {
    let mut parts: Vec<&str> = Vec::new();
    if reference.starts_with('/') || reference.contains(['\\', ':', '?', '#', '\0', '%', '*', '|', '<', '>', '"']) {
        return None;
    }
    for part in reference.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop()?;
            }
            part if part.starts_with('.') => return None,
            part => parts.push(part),
        }
    }
    if parts.is_empty() { None } else { Some(parts.join("/")) }
}

/// A path made fit for an `href`: everything but unreserved characters and `/` percent-encoded (RFC 3986, 2.3).
pub fn href(path: &str) -> String {
    let mut out = String::with_capacity(path.len());
    for byte in path.bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => out.push(byte as char),
            _ => out.push_str(&format!("%{byte:02X}")),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn references_stay_in_the_folder() {
        assert_eq!(within_folder("photo.jpg").as_deref(), Some("photo.jpg"));
        assert_eq!(within_folder("./a/../b.jpg").as_deref(), Some("b.jpg"));
        for bad in ["../x.jpg", "a/../../x", "/etc/passwd", "C:\\x", "..\\x", "%2e%2e/x", ".git/config", "", "a/.."] {
            assert_eq!(within_folder(bad), None, "{bad}");
        }
    }

    #[test]
    fn slugs_are_addresses() {
        for text in ["Second battery", "Größe & Maß", "../..", "", "日本", "--"] {
            assert!(is_address(&slug(text)), "{text} gives {}", slug(text));
        }
        assert!(is_address("vans/start-battery") && !is_address("a//b") && !is_address("A b") && !is_address(".."));
    }

    #[test]
    fn the_way_up() {
        assert_eq!(to_root("index.html"), "");
        assert_eq!(to_root("a/b/index.html"), "../../");
    }

    #[test]
    fn hrefs_are_encoded() {
        assert_eq!(href("a b/ü\"'.jpg"), "a%20b/%C3%BC%22%27.jpg");
    }
}
