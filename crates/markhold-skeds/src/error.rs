//! What keeps a sked from being understood.

/// Why a sked cannot be. Each message says what was found, what was expected and what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SkedError {
    /// No such time zone.
    #[error(
        "\"{0}\" is no time zone: expected UTC or a name of the IANA data base such as Europe/Oslo"
    )]
    Zone(String),
    /// A recurrence rule that cannot be used.
    #[error("the rule \"{rule}\" cannot be used: {why}")]
    Rule {
        /// The rule as given.
        rule: String,
        /// What is wrong.
        why: String,
    },
    /// A time outside of what calendars hold.
    #[error("{0} lies outside the years that can be reckoned with")]
    Time(String),
    /// A value that cannot be.
    #[error("{what} is {found}: expected {expected}")]
    Value {
        /// What it is about.
        what: &'static str,
        /// What was given.
        found: String,
        /// What would do.
        expected: &'static str,
    },
    /// Written by a later version of this program.
    #[error(
        "the sked has form {found}, this program knows forms up to {known}: update markhold to read it"
    )]
    Newer {
        /// The form found.
        found: u32,
        /// The latest form known here.
        known: u32,
    },
    /// Nothing that a calendar file begins with.
    #[error("this is no calendar: {0}; expected a file that begins with BEGIN:VCALENDAR")]
    Calendar(String),
    /// No place.
    #[error("\"{0}\" is no place: expected a locator such as JO59 or degrees such as 59.5,10.2")]
    Place(String),
}
