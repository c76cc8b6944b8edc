//! Tables of the site file that only some commands read: what is wrong in one of them is no reason to refuse
//! the others' answers.

use super::{Description, Problem, Site, validate};

/// A table that not every command reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Table {
    /// `[log]`
    #[cfg(feature = "files")]
    Log,
    /// `[weather]`
    #[cfg(feature = "files")]
    Weather,
    /// `[year]`
    #[cfg(feature = "files")]
    Year,
    /// `[basin]`
    Basin,
    /// `[[chemical]]`
    Chemical,
}

impl Table {
    /// Its name, as the paths of its entries begin.
    pub fn name(self) -> &'static str {
        match self {
            #[cfg(feature = "files")]
            Self::Log => "log",
            #[cfg(feature = "files")]
            Self::Weather => "weather",
            #[cfg(feature = "files")]
            Self::Year => "year",
            Self::Basin => "basin",
            Self::Chemical => "chemical",
        }
    }

    fn clear(self, description: &mut Description) {
        match self {
            #[cfg(feature = "files")]
            Self::Log => description.log = None,
            #[cfg(feature = "files")]
            Self::Weather => description.weather = None,
            #[cfg(feature = "files")]
            Self::Year => description.year = None,
            Self::Basin => description.basin = None,
            Self::Chemical => description.chemical.clear(),
        }
    }

    fn has(self, problem: &Problem) -> bool {
        let rest = problem.path.strip_prefix(self.name());
        rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
    }
}

/// Checks a description for somebody who does not read some of its tables. Where nothing else is wrong, the
/// faulty ones of these are left out; what is wrong with them comes beside the site.
///
/// # Errors
/// As [`validate()`], with every problem of the description.
pub fn validate_without(
    description: &Description,
    unread: &[Table],
) -> Result<(Site, Vec<Problem>), Vec<Problem>> {
    let problems = match validate(description) {
        Ok(site) => return Ok((site, Vec::new())),
        Err(problems) => problems,
    };
    let table_of = |problem: &Problem| unread.iter().copied().find(|table| table.has(problem));
    let Some(faulty) = problems.iter().map(table_of).collect::<Option<Vec<Table>>>() else {
        return Err(problems);
    };
    let mut rest = description.clone();
    faulty.into_iter().for_each(|table| table.clear(&mut rest));
    match validate(&rest) {
        Ok(site) => Ok((site, problems)),
        // Something else rests on what was left out.
        Err(_) => Err(problems),
    }
}
