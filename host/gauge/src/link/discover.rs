//! In: the system's list of serial ports. Out: those that call themselves our gauge, and one of them chosen.
//!
//! Looking never opens a port: another device's port may react to being opened.

use crate::link::LinkError;
use holdtrue_protocol::usb;
use serialport::{SerialPortInfo, SerialPortType};
use std::path::Path;

/// A serial port of this computer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Port {
    /// What to open.
    pub name: String,
    /// USB product text, where the system tells it; Windows has its own name for the port there.
    pub product: Option<String>,
    /// USB serial number, where the system tells it; of a gauge the part that is printed on it.
    pub serial: Option<String>,
    /// The port calls itself one of our gauges.
    pub is_gauge: bool,
}

impl Port {
    /// A port by what the system tells of it.
    fn told(name: String, product: Option<String>, serial: Option<String>) -> Self {
        let printed = serial.as_deref().and_then(usb::printed).map(str::to_owned);
        Self {
            name,
            is_gauge: usb::is_gauge(product.as_deref(), serial.as_deref()),
            product,
            serial: printed.or(serial),
        }
    }
}

/// Where Linux shows serial ports.
const LINUX_PORTS: &str = "/sys/class/tty";

/// All serial ports, by name.
pub fn ports() -> Vec<Port> {
    // A Linux without it, as in a bare container, shows none; the library would end the program there.
    if cfg!(target_os = "linux") && !Path::new(LINUX_PORTS).exists() {
        return Vec::new();
    }
    listed(serialport::available_ports().unwrap_or_default())
}

/// What the system lists, in the order a person counts.
fn listed(found: Vec<SerialPortInfo>) -> Vec<Port> {
    // Windows lists a device whose name it cannot read without one: nothing could be opened by it.
    let named = found.into_iter().filter(|info| !info.port_name.is_empty());
    let mut ports: Vec<Port> = named.map(describe).collect();
    ports.sort_by(|a, b| counted(&a.name).cmp(&counted(&b.name)));
    ports
}

/// A name and the number it ends with, so that COM10 comes after COM9.
fn counted(name: &str) -> (&str, u64, &str) {
    let stem = name.trim_end_matches(|letter: char| letter.is_ascii_digit());
    (stem, name[stem.len()..].parse().unwrap_or(0), name)
}

fn describe(info: SerialPortInfo) -> Port {
    let (product, serial) = match info.port_type {
        SerialPortType::UsbPort(usb) => (usb.product, usb.serial_number),
        _ => (None, None),
    };
    // Windows may have no name for the port and tells the serial number all the same.
    let (product, serial) = match (product, serial) {
        (None, None) => from_sysfs(Path::new(LINUX_PORTS), &info.port_name),
        told => told,
    };
    Port::told(info.port_name, product, serial)
}

/// Whether the system has a port of that name, whoever has it open.
pub(super) fn is_there(name: &str) -> bool {
    if cfg!(windows) {
        is_among(name, &ports())
    } else {
        Path::new(name).exists()
    }
}

/// Windows takes a port's name in any case, and with what stands before the names of devices.
fn is_among(name: &str, ports: &[Port]) -> bool {
    let name = name.strip_prefix(r"\\.\").unwrap_or(name);
    ports
        .iter()
        .any(|port| port.name.eq_ignore_ascii_case(name))
}

/// USB strings as Linux shows them: the `product` file of the USB device above the tty's interface.
/// Without libudev the port list carries none.
fn from_sysfs(class: &Path, port: &str) -> (Option<String>, Option<String>) {
    let Some(tty) = Path::new(port).file_name() else {
        return (None, None);
    };
    let Ok(interface) = class.join(tty).join("device").canonicalize() else {
        return (None, None);
    };
    let Some(device) = interface
        .ancestors()
        .take(4)
        .find(|folder| folder.join("idVendor").is_file())
    else {
        return (None, None);
    };
    let read = |name: &str| {
        std::fs::read_to_string(device.join(name))
            .ok()
            .map(|text| text.trim().to_owned())
    };
    (read("product"), read("serial"))
}

/// The port `--gauge` means: itself, or for `auto` the only gauge plugged in.
///
/// # Errors
/// [`LinkError::NoneFound`] and [`LinkError::SeveralFound`], naming what is there.
pub fn choose(wanted: &str) -> Result<String, LinkError> {
    if wanted != "auto" {
        return Ok(wanted.to_owned());
    }
    choose_among(&ports())
}

fn choose_among(ports: &[Port]) -> Result<String, LinkError> {
    let gauges: Vec<&Port> = ports.iter().filter(|port| port.is_gauge).collect();
    match gauges.as_slice() {
        [only] => Ok(only.name.clone()),
        [] => Err(LinkError::NoneFound {
            product: usb::PRODUCT,
            ports: names(ports.iter()),
        }),
        several => Err(LinkError::SeveralFound {
            ports: names(several.iter().copied()),
        }),
    }
}

fn names<'a>(ports: impl Iterator<Item = &'a Port>) -> String {
    let names: Vec<&str> = ports.map(|port| port.name.as_str()).collect();
    if names.is_empty() {
        "none".to_owned()
    } else {
        names.join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(name: &str, product: Option<&str>) -> Port {
        Port::told(name.into(), product.map(str::to_owned), None)
    }

    /// As Windows hands on a port: its own name in place of the product text or none, the serial number in capitals, of a
    /// device without one the first sign of its place on the bus.
    fn windows(name: &str, product: Option<&str>, serial: &str) -> SerialPortInfo {
        SerialPortInfo {
            port_name: name.into(),
            port_type: SerialPortType::UsbPort(serialport::UsbPortInfo {
                vid: 0x1209,
                pid: 0x0001,
                serial_number: Some(serial.into()),
                manufacturer: Some("Microsoft".into()),
                product: product.map(str::to_owned),
            }),
        }
    }

    fn unknown(name: &str) -> SerialPortInfo {
        SerialPortInfo {
            port_name: name.into(),
            port_type: SerialPortType::Unknown,
        }
    }

    #[test]
    fn a_gauge_is_found_by_what_windows_tells_of_it() {
        // Another prototype under the shared id, and a gauge.
        let two = [
            windows("COM3", Some("USB Serial Device (COM3)"), "6"),
            windows(
                "COM4",
                Some("Serielles USB-Gerät (COM4)"),
                "HOLDTRUE_TP_0042",
            ),
        ];
        let ports = listed(two.to_vec());
        assert_eq!(choose_among(&ports).unwrap(), "COM4");
        assert_eq!(ports[1].serial.as_deref(), Some("TP_0042"));
        assert_eq!(ports[0].serial.as_deref(), Some("6"));
        // One without a number of its own.
        let chip = windows("COM7", None, "HOLDTRUE_E6614103E7452D2F");
        let several = [two[1].clone(), chip];
        assert!(choose_among(&listed(several.to_vec())).is_err());
        assert!(choose_among(&ports[..1]).is_err());
    }

    #[test]
    fn a_gauge_is_found_where_windows_has_no_name_for_its_port() {
        let ports = listed(vec![
            unknown("COM1"),
            windows("COM12", None, "HOLDTRUE_TP_0042"),
        ]);
        assert_eq!(choose_among(&ports).unwrap(), "COM12");
        assert_eq!(ports[1].product, None);
        assert_eq!(ports[1].serial.as_deref(), Some("TP_0042"));
    }

    #[test]
    fn ports_stand_in_the_order_a_person_counts_and_none_is_without_a_name() {
        let ports = listed(["COM10", "", "COM9", "CNCA0", "COM1"].map(unknown).to_vec());
        let names: Vec<&str> = ports.iter().map(|port| port.name.as_str()).collect();
        assert_eq!(names, ["CNCA0", "COM1", "COM9", "COM10"]);
    }

    #[test]
    fn a_port_is_there_by_whatever_name_windows_takes() {
        let ports = listed(vec![unknown("COM3"), unknown("COM10")]);
        for name in ["COM10", "com10", r"\\.\COM10", r"\\.\com3"] {
            assert!(is_among(name, &ports), "{name}");
        }
        for name in ["COM1", "COM100", "letter.txt", ""] {
            assert!(!is_among(name, &ports), "{name}");
        }
    }

    #[test]
    fn the_only_gauge_is_chosen_among_other_devices() {
        let ports = [
            port("A", Some("Modem")),
            port("B", Some(usb::PRODUCT)),
            port("C", None),
        ];
        assert_eq!(choose_among(&ports).unwrap(), "B");
    }

    #[test]
    fn none_and_several_are_refused_by_name() {
        let none = choose_among(&[port("A", Some("Modem"))])
            .unwrap_err()
            .to_string();
        assert!(
            none.contains("ports here: A") && none.contains("--gauge PORT"),
            "{none}"
        );
        let several = choose_among(&[port("A", Some(usb::PRODUCT)), port("B", Some(usb::PRODUCT))])
            .unwrap_err()
            .to_string();
        assert!(several.contains("A, B"), "{several}");
    }

    #[cfg(unix)]
    #[test]
    fn usb_strings_are_read_where_linux_keeps_them() {
        let root = tempfile::tempdir().unwrap();
        let device = root.path().join("devices/usb1/1-2");
        let interface = device.join("1-2:1.0");
        std::fs::create_dir_all(&interface).unwrap();
        for (file, text) in [
            ("idVendor", "1209\n"),
            ("product", "holdtrue gauge\n"),
            ("serial", "TP-1\n"),
        ] {
            std::fs::write(device.join(file), text).unwrap();
        }
        let class = root.path().join("class");
        std::fs::create_dir_all(class.join("ttyACM0")).unwrap();
        std::os::unix::fs::symlink(&interface, class.join("ttyACM0/device")).unwrap();
        let found = from_sysfs(&class, "/dev/ttyACM0");
        assert_eq!(found, (Some("holdtrue gauge".into()), Some("TP-1".into())));
        assert_eq!(from_sysfs(&class, "/dev/ttyS0"), (None, None));
    }
}
