//! The paper a customer reads: document model to HTML.
