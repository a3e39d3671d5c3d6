//! Records in flash under loss of power: at every step of every erase and program the last finished saving is still
//! there, and the next one works.

mod bench;

use std::convert::Infallible;

use bench::memory::{Memory, TornErase};
use embedded_storage::nor_flash::{ErrorType, NorFlash, ReadNorFlash};
use holdtrue_firmware::flash::{Flash, LEAST_SUPPLY_MV, SECTOR, SECTORS};
use holdtrue_firmware::store::{self, Payload, Progress, Record, Saving, save_waiting};

/// Savings before the one that is cut: the first ever, inside a sector, at its end, at the end of both, and beyond.
const BEFORE: [u32; 10] = [0, 1, 2, 14, 15, 16, 17, 31, 32, 33];
const TORN: [TornErase; 3] = [TornErase::Beginning, TornErase::End, TornErase::Scattered];
const RECORD: Record = Record::ForceCalibration;

fn content(number: u32) -> Payload {
    // Of different lengths, and never the same twice.
    let bytes: Vec<u8> = (0..40 + number % 200)
        .map(|place| (place * 7 + number).to_le_bytes()[0])
        .collect();
    Payload::from_slice(&bytes).expect("at most 240 bytes")
}

fn saved(times: u32) -> Memory {
    let mut memory = Memory::blank();
    for number in 1..=times {
        assert!(save_waiting(&mut memory, RECORD, content(number)));
    }
    memory
}

fn found(memory: &mut Memory) -> Option<Payload> {
    store::newest(memory, RECORD).expect("power is on")
}

fn last(times: u32) -> Option<Payload> {
    (times > 0).then(|| content(times))
}

#[test]
fn the_newest_saving_is_found_after_any_number() {
    let mut memory = Memory::blank();
    assert_eq!(found(&mut memory), None);
    for number in 1..=100 {
        assert!(save_waiting(&mut memory, RECORD, content(number)));
        assert_eq!(found(&mut memory), last(number));
    }
    // 32 pages in two sectors, one erase for each 16 savings once both are full.
    assert_eq!((memory.programs, memory.erases), (100, 5));
}

#[test]
fn power_lost_at_any_step_leaves_the_old_or_the_new_record() {
    for before in BEFORE {
        let start = saved(before);
        let whole = {
            let mut memory = start.clone();
            assert!(save_waiting(&mut memory, RECORD, content(before + 1)));
            memory.steps - start.steps
        };
        for torn in TORN {
            for cut in 0..=whole {
                let mut memory = start.clone();
                memory.cut_after(cut, torn);
                let stored = save_waiting(&mut memory, RECORD, content(before + 1));
                memory.power_up();
                let after = found(&mut memory);
                let case =
                    format!("after {before} savings, {torn:?}, cut after {cut} of {whole} steps");
                if stored || cut == whole {
                    assert_eq!(after, last(before + 1), "{case}");
                } else if cut + 1 < whole {
                    assert_eq!(after, last(before), "{case}");
                } else {
                    // Half of the very last byte may be all of it that had to change.
                    assert!(after == last(before) || after == last(before + 1), "{case}");
                }
                assert!(
                    save_waiting(&mut memory, RECORD, content(before + 2)),
                    "{case}"
                );
                assert_eq!(found(&mut memory), last(before + 2), "{case}");
            }
        }
    }
}

#[test]
fn power_lost_again_and_again_never_loses_the_last_finished_saving() {
    let mut memory = Memory::blank();
    let mut kept = None;
    let mut random = 12_345_u32;
    for number in 1..2_000 {
        random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        memory.cut_after((random >> 16) as usize % 600, TORN[number as usize % 3]);
        if save_waiting(&mut memory, RECORD, content(number)) {
            kept = Some(number);
        }
        memory.power_up();
        let after = found(&mut memory);
        if after == Some(content(number)) {
            kept = Some(number); // finished, only the reading back was cut off
        }
        assert_eq!(after, kept.map(content), "saving {number}");
    }
    assert!(kept.is_some_and(|number| number > 1_900));
}

#[test]
fn a_saving_does_at_most_one_erase_or_program_a_step() {
    let mut memory = saved(32);
    let mut saving = Saving::new(RECORD, content(33));
    loop {
        let before = memory.erases + memory.programs;
        let progress = saving.step(&mut memory);
        assert!(memory.erases + memory.programs - before <= 1);
        match progress {
            Progress::Working => {}
            Progress::Stored => break,
            Progress::Failed | Progress::SupplyLow(_) => panic!("a sound memory takes it"),
        }
    }
    assert_eq!(found(&mut memory), last(33));
}

#[test]
fn records_do_not_touch_each_other() {
    let records = [
        Record::BootNumber,
        Record::ForceCalibration,
        Record::DisplacementCalibration,
        Record::IndicatorCalibration,
        Record::Overloads,
        Record::Stops,
    ];
    let mut memory = Memory::blank();
    for number in 0..40 {
        for (place, record) in (0..).zip(records) {
            assert!(save_waiting(
                &mut memory,
                record,
                content(number * 6 + place)
            ));
        }
    }
    for (place, record) in (0..).zip(records) {
        assert_eq!(
            store::newest(&mut memory, record).unwrap(),
            Some(content(39 * 6 + place))
        );
    }
}

#[test]
fn a_memory_that_never_takes_it_is_told() {
    /// Reads blank whatever was programmed.
    struct Dead;
    impl ErrorType for Dead {
        type Error = Infallible;
    }
    impl ReadNorFlash for Dead {
        const READ_SIZE: usize = 1;
        fn capacity(&self) -> usize {
            (SECTOR * SECTORS) as usize
        }
        fn read(&mut self, _: u32, into: &mut [u8]) -> Result<(), Infallible> {
            into.fill(0xff);
            Ok(())
        }
    }
    impl Flash for Dead {}
    impl NorFlash for Dead {
        const WRITE_SIZE: usize = 1;
        const ERASE_SIZE: usize = 4_096;
        fn erase(&mut self, _: u32, _: u32) -> Result<(), Infallible> {
            Ok(())
        }
        fn write(&mut self, _: u32, _: &[u8]) -> Result<(), Infallible> {
            Ok(())
        }
    }
    assert!(!save_waiting(&mut Dead, RECORD, content(1)));
}

#[test]
fn a_supply_that_is_too_low_is_told_before_anything_is_touched_and_the_saving_goes_on_when_it_is_back()
 {
    // Into a blank page; and with both sectors full, when one has to be erased first.
    for (before, changes) in [(1, 1), (32, 2)] {
        for sags_at in 0..changes {
            let mut memory = saved(before);
            let good = vec![LEAST_SUPPLY_MV; sags_at];
            memory.supply_mv = good.into_iter().chain([LEAST_SUPPLY_MV - 1]).collect();
            let mut saving = Saving::new(RECORD, content(999));
            let mut changed = (memory.erases, memory.programs);
            loop {
                match saving.step(&mut memory) {
                    Progress::Working => changed = (memory.erases, memory.programs),
                    Progress::SupplyLow(found) => {
                        assert_eq!(found, LEAST_SUPPLY_MV - 1);
                        break;
                    }
                    other => panic!("{other:?} at {before}, sagging at {sags_at}"),
                }
            }
            assert_eq!((memory.erases, memory.programs), changed);
            assert_eq!(found(&mut memory), last(before));
            while saving.step(&mut memory) != Progress::Stored {}
            assert_eq!(found(&mut memory), last(999));
        }
    }
}
