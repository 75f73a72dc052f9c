//! What every answer says about what the page may do.

/// Headers that are the same for each answer.
///
/// The referrer stays within the desk; with none at all a browser would not say which page
/// the code was typed into.
pub const STRICT: [(&str, &str); 5] = [
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    (
        "permissions-policy",
        "camera=(), microphone=(), geolocation=()",
    ),
    ("x-frame-options", "DENY"),
];

/// The content security policy: everything from the desk itself and nothing else. Older
/// browsers do not count the socket as `'self'`, so its place is named.
pub fn policy(host: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || ".:-[]".contains(c);
    let socket = if !host.is_empty() && host.chars().all(plain) {
        format!(" ws://{host}")
    } else {
        String::new()
    };
    format!(
        "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; \
         img-src 'self' data:; media-src 'self'; manifest-src 'self'; connect-src 'self'{socket}; \
         base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_comes_from_elsewhere() {
        let policy = policy("localhost:8045");
        assert!(policy.starts_with("default-src 'none'; script-src 'self'; style-src 'self'"));
        assert!(policy.contains("connect-src 'self' ws://localhost:8045;"));
        assert!(!policy.contains("unsafe") && !policy.contains('*'));
    }

    #[test]
    fn a_strange_host_adds_nothing() {
        assert!(!policy("a; script-src *").contains('*'));
    }
}
