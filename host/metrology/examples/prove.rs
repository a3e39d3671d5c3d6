//! Prints every reference check and ends with 1 if one is out.

use holdtrue_metrology::prove::checks;

fn main() {
    let mut code = 0;
    for check in checks() {
        let mark = if check.ok { "ok " } else { "OUT" };
        println!(
            "{mark} {}, {}: expected {}, computed {:?}, {:.1} digits",
            check.name, check.quantity, check.expected, check.computed, check.digits
        );
        code |= i32::from(!check.ok);
    }
    std::process::exit(code);
}
