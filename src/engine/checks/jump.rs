//! (to come)

/// What a jump beyond the possible flow most likely is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JumpVerdict {
    /// The level moved with the headspace pressure by the same pressure: the liquid did not.
    PressureArtefact,
    /// Nothing that is known explains it.
    Unexplained,
}

impl JumpVerdict {
    pub fn name(self) -> &'static str {
        match self {
            JumpVerdict::PressureArtefact => "pressure artefact",
            JumpVerdict::Unexplained => "unexplained",
        }
    }
}
