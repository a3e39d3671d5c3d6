//! In: the simulated gauge. Out: a [`super::Link`] in this process, on virtual time.
