//! A serial device of this computer with standard input and output behind it: what comes in goes to whoever opens the
//! device, and back. Its path is the first line on standard error. Ends when its input ends.
//!
//! For the emulated bench: the real program opens the emulated gauge as it would a real one.

use std::error::Error;

#[cfg(not(unix))]
fn main() -> Result<(), Box<dyn Error>> {
    Err("this system has no pseudo-terminals".into())
}

#[cfg(unix)]
fn main() -> Result<(), Box<dyn Error>> {
    unix::main()
}

#[cfg(unix)]
mod unix {
    use std::error::Error;
    use std::ffi::OsStr;
    use std::fs::{File, OpenOptions};
    use std::io::{self, Read, Write};
    use std::os::unix::ffi::OsStrExt;
    use std::{process, thread};

    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

    pub fn main() -> Result<(), Box<dyn Error>> {
        let near = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
        grantpt(&near)?;
        unlockpt(&near)?;
        let name = ptsname(&near, Vec::new())?;
        let path = OsStr::from_bytes(name.as_bytes());
        // Kept open, so that the device stays between one visitor and the next.
        let far = OpenOptions::new().read(true).write(true).open(path)?;
        let mut settings = tcgetattr(&far)?;
        settings.make_raw();
        tcsetattr(&far, OptionalActions::Now, &settings)?;
        eprintln!("{}", path.display());
        let near = File::from(near);
        let to_visitor = near.try_clone()?;
        thread::spawn(move || {
            let _ = carry(io::stdin(), to_visitor); // its end, however it comes, ends the program
            process::exit(0);
        });
        carry(near, io::stdout())?;
        Ok(())
    }

    fn carry(mut from: impl Read, mut to: impl Write) -> io::Result<()> {
        let mut buffer = [0; 4096];
        loop {
            let count = from.read(&mut buffer)?;
            if count == 0 {
                return Ok(());
            }
            to.write_all(&buffer[..count])?;
            to.flush()?;
        }
    }
}
