//! Options a certificate is typed with. In: a part, by its key in the file. Out: the option.

/// The option a part of the certificate is typed with.
pub fn option_of(key: &str) -> String {
    match key {
        "expanded_percent" => "--uncertainty-percent".to_owned(),
        "expanded_n" => "--uncertainty-n".to_owned(),
        "expanded_um" => "--uncertainty-um".to_owned(),
        "point" => "--from".to_owned(),
        key => format!("--{}", key.replace('_', "-")),
    }
}
