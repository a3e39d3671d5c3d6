//! How a gauge calls itself on USB: programs find it among the serial ports of a computer without opening any.
//!
//! Linux and macOS hand on the product text. Windows hands on its own name for the port in place of it, and the serial
//! number, in capitals and only as far as letters, digits and underscores go: so that number says it too.

use heapless::String;

/// The USB product text.
pub const PRODUCT: &str = "holdtrue gauge";

/// What the USB serial number begins with.
pub const SERIAL_PREFIX: &str = "holdtrue_";

/// Longest serial number printed on a gauge, with what stands before it on USB.
pub const SERIAL_LEN: usize = SERIAL_PREFIX.len() + PRINTED_LEN;

const PRINTED_LEN: usize = 16;

/// The USB serial number of a gauge by the one printed on it; what lies beyond 16 characters is cut off.
#[must_use]
pub fn serial_number(printed: &str) -> String<SERIAL_LEN> {
    let told = |letter: char| {
        if letter.is_ascii_alphanumeric() {
            letter
        } else {
            '_'
        }
    };
    let printed = printed.chars().take(PRINTED_LEN).map(told);
    SERIAL_PREFIX.chars().chain(printed).collect()
}

/// The part of a USB serial number that is printed on the gauge, as far as USB tells it; none of another device.
#[must_use]
pub fn printed(serial_number: &str) -> Option<&str> {
    let (prefix, printed) = serial_number.split_at_checked(SERIAL_PREFIX.len())?;
    prefix
        .eq_ignore_ascii_case(SERIAL_PREFIX)
        .then_some(printed)
}

/// Whether a port is that of a gauge, by what the system tells of it.
#[must_use]
pub fn is_gauge(product: Option<&str>, serial_number: Option<&str>) -> bool {
    product == Some(PRODUCT) || serial_number.is_some_and(|number| printed(number).is_some())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gauge_is_known_by_its_product_text_or_its_serial_number() {
        let told = serial_number("TP-0042");
        assert_eq!(told.as_str(), "holdtrue_TP_0042");
        assert_eq!(printed("HOLDTRUE_TP_0042"), Some("TP_0042"));
        for (product, serial) in [
            (Some(PRODUCT), None),
            (None, Some("holdtrue_TP_0042")),
            (
                Some("USB Serial Device (COM3)"),
                Some("HOLDTRUE_E6614103E7452D2F"),
            ),
        ] {
            assert!(is_gauge(product, serial), "{product:?} {serial:?}");
        }
        for (product, serial) in [
            (None, None),
            (Some("USB Serial Device (COM3)"), Some("6")),
            (Some("Modem"), Some("hold")),
            (Some("Modem"), Some("TP_0042")),
            (None, Some("häldtrue_1")),
        ] {
            assert!(!is_gauge(product, serial), "{product:?} {serial:?}");
        }
    }

    #[test]
    fn no_serial_number_is_too_long() {
        assert_eq!(serial_number("0123456789ABCDEF and more").len(), SERIAL_LEN);
        assert_eq!(serial_number("").as_str(), SERIAL_PREFIX);
    }
}
