//! What can be wrong with the description of a machine.

/// A key of a machine's description that does not do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{key} = {found}: expected {expected}; {hint}")]
pub struct MachineError {
    /// The key.
    pub key: &'static str,
    /// What was found, as it would stand in the file.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do.
    pub hint: String,
}
