//! What rows of many runs show beside the balance.

use super::sheet::MethodName;
use super::{Balance, Model, Workspace};
use crate::site::Method;
use crate::tower::Exchange;

impl Model {
    /// What the site's method found for the exit air of the last evaluation; `None` where the method
    /// knows no air, or where not all cells work alike. In crossflow the transfer number is that of
    /// a coarse grid, or no number where the method found the air without one:
    /// [`Model::exit_with_number`] has a closer one.
    pub fn exit(&self, balance: &Balance, work: &mut Workspace) -> Option<Exchange> {
        self.common_exit(balance, work, false)
    }

    /// As [`Model::exit`], with the transfer number of the balance sheet: in crossflow extrapolated
    /// from two grids, some 2 ms.
    pub fn exit_with_number(&self, balance: &Balance, work: &mut Workspace) -> Option<Exchange> {
        self.common_exit(balance, work, true)
    }

    fn common_exit(
        &self,
        balance: &Balance,
        work: &mut Workspace,
        with_number: bool,
    ) -> Option<Exchange> {
        let MethodName::Method(method @ (Method::Merkel | Method::Poppe)) = self.used_method()
        else {
            return None;
        };
        let first = *work.cells().first()?;
        // Air and water are common to all cells: those of one kind and ratio work alike.
        let alike = self.site.cells.iter().zip(work.cells()).all(|(cell, state)| {
            cell.arrangement == self.site.cells[0].arrangement
                && state.water_to_air == first.water_to_air
        });
        if !alike {
            return None;
        }
        match with_number {
            true => self.reported_exchange(method, 0, &balance.state, work),
            false => self.exchange(method, 0, &balance.state, work).ok(),
        }
    }
}
