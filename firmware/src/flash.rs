//! The little flash memory a gauge keeps its records in, as the board gives it.

/// Bytes erased at once.
pub const SECTOR: u32 = 4_096;
/// Bytes programmed at once.
pub const PAGE: u32 = 256;
/// Room for one page.
pub const PAGE_BYTES: usize = 256;
/// Sectors a gauge needs: two for each [`Record`](crate::store::Record).
pub const SECTORS: u32 = 12;

/// A region of [`SECTORS`] sectors set aside for the gauge; addresses count from its start.
///
/// Erased bytes read 0xff; programming only clears bits. A board whose flash has other sizes gathers several of its
/// units. Calls may take as long as the flash does (an erase up to some 400 ms): the gauge makes them only while it
/// is not streaming, one a poll.
pub trait Flash {
    /// Why it failed.
    type Error: core::fmt::Debug;

    /// Reads from an address.
    ///
    /// # Errors
    ///
    /// The memory failed.
    fn read(&mut self, at: u32, into: &mut [u8]) -> Result<(), Self::Error>;

    /// Erases the sector that begins at an address.
    ///
    /// # Errors
    ///
    /// The memory failed.
    fn erase_sector(&mut self, at: u32) -> Result<(), Self::Error>;

    /// Programs the page that begins at an address.
    ///
    /// # Errors
    ///
    /// The memory failed.
    fn program_page(&mut self, at: u32, page: &[u8; PAGE_BYTES]) -> Result<(), Self::Error>;
}
