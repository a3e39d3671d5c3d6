//! The little flash memory a gauge keeps its records in, as the board gives it.

use embedded_storage::nor_flash::NorFlash;

/// Bytes erased at once.
pub const SECTOR: u32 = 4_096;
/// Bytes programmed at once.
pub const PAGE: u32 = 256;
/// Room for one page.
pub const PAGE_BYTES: usize = 256;
/// Sectors a gauge needs: two for each [`Record`](crate::store::Record).
pub const SECTORS: u32 = 12;

/// Least supply, millivolts, at which a gauge erases or writes its flash. Common serial flash is made for 2.7 V to 3.6 V (W25Q16JV data
/// sheet, operating ranges, from memory); below it an erase may not finish, and what is written may not last.
pub const LEAST_SUPPLY_MV: u16 = 2_700;

/// A region of [`SECTORS`] sectors set aside for the gauge; addresses count from its start.
///
/// Any memory of [`embedded_storage`] whose units divide a sector and a page. The gauge reads anywhere, erases whole sectors
/// and writes whole pages of erased ones, once. Calls may take as long as the flash does (an erase up to some 400 ms): the
/// gauge makes them only while it is not streaming, one a poll.
pub trait Flash: NorFlash {
    /// Fails the build where a memory's units do not fit.
    const FITS: () = assert!(
        Self::READ_SIZE == 1
            && (SECTOR as usize).is_multiple_of(Self::ERASE_SIZE)
            && PAGE_BYTES.is_multiple_of(Self::WRITE_SIZE),
        "the records are read byte by byte, erased by sector and written by page"
    );

    /// The flash's supply now, millivolts: what it is at least, where the board knows it less than exactly. None where the
    /// board cannot tell; then nothing is held back.
    fn supply_mv(&mut self) -> Option<u16> {
        None
    }
}
