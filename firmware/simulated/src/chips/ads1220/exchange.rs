//! In: the bytes of one SPI transaction. Out: the chip's answers, commands carried out, and a note of what is forbidden.

use embedded_hal::spi::Operation;

use super::Chip;

/// One pull of chip-select low, byte by byte.
pub(super) struct Exchange<'c> {
    chip: &'c mut Chip,
    state: State,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Command,
    Writing { register: usize, left: usize },
    Reading { register: usize, left: usize },
    Data { bytes: [u8; 3], place: usize },
    Done,
}

impl<'c> Exchange<'c> {
    /// Chip-select goes low.
    pub(super) fn begin(chip: &'c mut Chip) -> Self {
        Self {
            chip,
            state: State::Command,
        }
    }

    /// Clocks all bytes through.
    pub(super) fn run(mut self, operations: &mut [Operation<'_, u8>]) {
        for operation in operations {
            match operation {
                Operation::Read(bytes) => bytes.fill_with(|| self.byte(0)),
                Operation::Write(bytes) => bytes.iter().for_each(|byte| {
                    self.byte(*byte);
                }),
                Operation::Transfer(read, write) => self.transfer(read, write),
                Operation::TransferInPlace(bytes) => {
                    bytes.iter_mut().for_each(|byte| *byte = self.byte(*byte));
                }
                Operation::DelayNs(_) => {}
            }
        }
        self.end();
    }

    fn transfer(&mut self, read: &mut [u8], write: &[u8]) {
        for place in 0..read.len().max(write.len()) {
            let answer = self.byte(write.get(place).copied().unwrap_or(0));
            if let Some(byte) = read.get_mut(place) {
                *byte = answer;
            }
        }
    }

    fn byte(&mut self, sent: u8) -> u8 {
        match self.state {
            // Clocked with DIN low after data-ready, the result comes without a command (section 8.5.3.4).
            State::Command if sent == 0 && self.chip.fresh => {
                self.read_data();
                self.byte(0)
            }
            State::Command | State::Done => {
                self.command(sent);
                0
            }
            State::Writing { register, left } => {
                self.chip.registers[register] = sent;
                self.state = if left > 1 {
                    State::Writing {
                        register: register + 1,
                        left: left - 1,
                    }
                } else {
                    self.chip.configured();
                    State::Done
                };
                0
            }
            State::Reading { register, left } => {
                self.state = if left > 1 {
                    State::Reading {
                        register: register + 1,
                        left: left - 1,
                    }
                } else {
                    State::Done
                };
                self.chip.registers[register]
            }
            State::Data { bytes, place } => {
                self.state = if place < 2 {
                    State::Data {
                        bytes,
                        place: place + 1,
                    }
                } else {
                    State::Done
                };
                bytes[place]
            }
        }
    }

    fn command(&mut self, sent: u8) {
        self.state = State::Done;
        let (register, count) = (
            usize::from((sent >> 2) & 0b11),
            usize::from(sent & 0b11) + 1,
        );
        match sent {
            0b0000_0110 | 0b0000_0111 => self.chip.reset(),
            0b0000_1000 | 0b0000_1001 => self.chip.start(),
            0b0000_0010 | 0b0000_0011 => {
                self.chip.run = None;
                self.chip.fresh = false;
            }
            0b0001_0000..=0b0001_1111 => self.read_data(),
            0b0010_0000..=0b0010_1111 if register + count <= 4 => {
                self.state = State::Reading {
                    register,
                    left: count,
                };
            }
            0b0100_0000..=0b0100_1111 if register + count <= 4 => {
                self.state = State::Writing {
                    register,
                    left: count,
                };
            }
            0b0010_0000..=0b0010_1111 | 0b0100_0000..=0b0100_1111 => {
                self.chip
                    .misuse(format!("command {sent:#04x} goes past register 3"));
            }
            0x00 | 0xff => self
                .chip
                .misuse("bytes clocked without a command while no reading was under way"),
            other => self.chip.misuse(format!("{other:#04x} is no command")),
        }
    }

    fn read_data(&mut self) {
        if !self.chip.fresh {
            self.chip
                .misuse("data read while data-ready was high: the old value again");
        }
        self.chip.fresh = false;
        let [_, high, middle, low] = self.chip.latest.to_be_bytes();
        self.state = State::Data {
            bytes: [high, middle, low],
            place: 0,
        };
    }

    /// Chip-select goes high.
    fn end(self) {
        match self.state {
            State::Writing { left, .. } => {
                self.chip
                    .misuse(format!("register write cut short, {left} bytes missing"));
            }
            State::Reading { left, .. } => {
                self.chip
                    .misuse(format!("register read cut short, {left} bytes missing"));
            }
            State::Data { .. } => self
                .chip
                .misuse("conversion read cut short of its three bytes"),
            State::Command | State::Done => {}
        }
    }
}

/// A dead chip: the line reads ones.
pub(super) fn silence(operations: &mut [Operation<'_, u8>]) {
    for operation in operations {
        match operation {
            Operation::Read(bytes)
            | Operation::Transfer(bytes, _)
            | Operation::TransferInPlace(bytes) => bytes.fill(0xff),
            Operation::Write(_) | Operation::DelayNs(_) => {}
        }
    }
}
