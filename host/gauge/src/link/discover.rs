//! In: the system's list of serial ports. Out: those that call themselves our gauge, and one of them chosen.
//!
//! Looking never opens a port: another device's port may react to being opened.

use crate::link::LinkError;
use std::path::Path;

/// The USB product string of our gauges.
pub const PRODUCT: &str = "holdtrue gauge";

/// A serial port of this computer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Port {
    /// What to open.
    pub name: String,
    /// USB product string, where the system tells it.
    pub product: Option<String>,
    /// USB serial number, where the system tells it.
    pub serial: Option<String>,
}

impl Port {
    /// Whether the port calls itself one of our gauges.
    pub fn is_gauge(&self) -> bool {
        self.product.as_deref() == Some(PRODUCT)
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
    let mut found: Vec<Port> = serialport::available_ports()
        .unwrap_or_default()
        .into_iter()
        .map(describe)
        .collect();
    found.sort_by(|a, b| a.name.cmp(&b.name));
    found
}

fn describe(info: serialport::SerialPortInfo) -> Port {
    let (mut product, mut serial) = match info.port_type {
        serialport::SerialPortType::UsbPort(usb) => (usb.product, usb.serial_number),
        _ => (None, None),
    };
    if product.is_none() {
        (product, serial) = from_sysfs(Path::new(LINUX_PORTS), &info.port_name);
    }
    Port {
        name: info.port_name,
        product,
        serial,
    }
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
    let gauges: Vec<&Port> = ports.iter().filter(|port| port.is_gauge()).collect();
    match gauges.as_slice() {
        [only] => Ok(only.name.clone()),
        [] => Err(LinkError::NoneFound {
            product: PRODUCT,
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
        Port {
            name: name.into(),
            product: product.map(str::to_owned),
            serial: None,
        }
    }

    #[test]
    fn the_only_gauge_is_chosen_among_other_devices() {
        let ports = [
            port("A", Some("Modem")),
            port("B", Some(PRODUCT)),
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
        let several = choose_among(&[port("A", Some(PRODUCT)), port("B", Some(PRODUCT))])
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
