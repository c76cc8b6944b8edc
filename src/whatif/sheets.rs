//! What a row comes to beyond its balance: made once, and only where a chosen column asks for it.

use super::columns::Column;
use crate::model::{
    Balance, BestEstimate, CostParts, FeedLine, Inputs, LevelQuestions, LevelSheet, Model,
    RowTarget, Workspace,
};
use crate::tower::Exchange;
use std::cell::OnceCell;

#[cfg(feature = "files")]
use crate::model::{YearPlan, YearSheet};
#[cfg(feature = "files")]
use crate::readings::weather::Hour;

/// A sheet, or why there is none.
type Made<T> = OnceCell<Result<T, String>>;

/// What rows of one model need beside their numbers.
#[derive(Debug, Clone)]
pub(super) struct Ready<'a> {
    /// The model, uncertain in what takes a margin off the target alone.
    stated: Option<Box<Model>>,
    /// The site as it stands, away from its design point.
    #[cfg(feature = "files")]
    prediction: Option<YearPlan<'a>>,
    /// Weather of a year.
    #[cfg(feature = "files")]
    weather: &'a [Hour],
    #[cfg(not(feature = "files"))]
    weather: std::marker::PhantomData<&'a ()>,
}

/// Hours of weather that columns of a year need; there are none without files.
#[cfg(feature = "files")]
pub type Weather<'a> = &'a [Hour];
/// Hours of weather that columns of a year need; there are none without files.
#[cfg(not(feature = "files"))]
pub type Weather<'a> = std::marker::PhantomData<&'a ()>;

impl<'a> Ready<'a> {
    pub fn new(model: &'a Model, columns: &[Column], weather: Weather<'a>) -> Self {
        let asks = |need| columns.iter().any(|column| column.needs(need));
        Self {
            stated: asks(Need::Target).then(|| Box::new(model.with_stated_errors())),
            #[cfg(feature = "files")]
            prediction: asks(Need::Prediction)
                .then(|| model.year_plan(model.base()).ok())
                .flatten(),
            weather,
        }
    }
}

/// What a column needs of a site.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// An analysis of the makeup.
    Allowed,
    /// The same, and the target below what is allowed.
    Target,
    /// A valve of a stated flow.
    Valve,
    /// Chemicals that are fed.
    Feed,
    /// Prices.
    Prices,
    /// The volume of the system.
    Volume,
    /// A basin that is described.
    Basin,
    /// Its float valve.
    FloatValve,
    /// A fill that can be fitted to the design point.
    Prediction,
    /// Weather of a year.
    Weather,
}

/// An evaluated row.
pub(super) struct Row<'a> {
    pub model: &'a Model,
    pub inputs: &'a Inputs,
    pub balance: &'a Balance,
    pub work: &'a mut Workspace,
    ready: &'a Ready<'a>,
    allowed: Made<BestEstimate>,
    target: Made<Option<RowTarget>>,
    feed: Made<Vec<FeedLine>>,
    feed_at_target: Made<Vec<FeedLine>>,
    cost: Made<CostParts>,
    cost_at_target: Made<Option<CostParts>>,
    level: Made<LevelSheet>,
    #[cfg(feature = "files")]
    year: Made<YearSheet>,
}

impl<'a> Row<'a> {
    pub fn new(
        model: &'a Model,
        (inputs, balance): (&'a Inputs, &'a Balance),
        work: &'a mut Workspace,
        ready: &'a Ready<'a>,
    ) -> Self {
        Self {
            model,
            inputs,
            balance,
            work,
            ready,
            allowed: OnceCell::new(),
            target: OnceCell::new(),
            feed: OnceCell::new(),
            feed_at_target: OnceCell::new(),
            cost: OnceCell::new(),
            cost_at_target: OnceCell::new(),
            level: OnceCell::new(),
            #[cfg(feature = "files")]
            year: OnceCell::new(),
        }
    }

    /// Why a sheet that was asked for could not be made; the first of them.
    pub fn missing(&self) -> Option<&str> {
        fn why<T>(made: &Made<T>) -> Option<&str> {
            made.get()?.as_ref().err().map(String::as_str)
        }
        let of_year = || {
            #[cfg(feature = "files")]
            return why(&self.year);
            #[cfg(not(feature = "files"))]
            None
        };
        why(&self.allowed)
            .or_else(|| why(&self.target))
            .or_else(|| why(&self.feed))
            .or_else(|| why(&self.feed_at_target))
            .or_else(|| why(&self.cost))
            .or_else(|| why(&self.cost_at_target))
            .or_else(|| why(&self.level))
            .or_else(of_year)
    }

    pub fn exit(&mut self, of: fn(&Exchange) -> f64) -> f64 {
        self.model.exit_air(&self.balance.state, self.work).as_ref().map_or(f64::NAN, of)
    }

    /// The cold water that the fill fitted to the site as it stands gives here.
    #[cfg(feature = "files")]
    pub fn predicted_cold_water(&mut self) -> Option<f64> {
        let cells = self.work.cells();
        self.ready.prediction.as_ref()?.cold_water(&self.balance.state, cells)
    }

    pub fn allowed(&self) -> Option<&BestEstimate> {
        let make =
            || self.model.best_estimate(self.inputs, self.balance).map_err(|why| why.to_string());
        self.allowed.get_or_init(make).as_ref().ok()
    }

    pub fn target(&self) -> Option<&RowTarget> {
        let estimate = self.allowed()?;
        let make = || {
            let stated = self.ready.stated.as_deref().unwrap_or(self.model);
            self.model
                .row_target(stated, self.inputs, self.balance, estimate)
                .map_err(|why| why.to_string())
        };
        self.target.get_or_init(make).as_ref().ok()?.as_ref()
    }

    pub fn feed(&self) -> &[FeedLine] {
        let make = || {
            let water = (&self.balance.water, self.model.holds_cycles());
            self.model.feed_of(self.inputs, self.balance, water).map_err(|why| why.to_string())
        };
        self.feed.get_or_init(make).as_deref().unwrap_or_default()
    }

    pub fn feed_at_target(&self) -> &[FeedLine] {
        let Some(water) = self.target().and_then(|target| target.balance) else { return &[] };
        let make = || {
            self.model
                .feed_of(self.inputs, self.balance, (&water, true))
                .map_err(|why| why.to_string())
        };
        self.feed_at_target.get_or_init(make).as_deref().unwrap_or_default()
    }

    pub fn cost(&self) -> Option<&CostParts> {
        const NO_PRICE: &str = "no price is stated";
        let make = || {
            let water = (&self.balance.water, self.model.holds_cycles());
            let cost = self.model.year_cost(self.inputs, self.balance, water);
            cost.unwrap_or_else(|| Err(NO_PRICE.into()))
        };
        self.cost.get_or_init(make).as_ref().ok()
    }

    pub fn cost_at_target(&self) -> Option<&CostParts> {
        let water = self.target()?.balance?;
        let make = || self.model.year_cost(self.inputs, self.balance, (&water, true)).transpose();
        self.cost_at_target.get_or_init(make).as_ref().ok()?.as_ref()
    }

    pub fn level(&self) -> Option<&LevelSheet> {
        let make = || {
            let questions = LevelQuestions::default();
            self.model.level(self.inputs, questions).map_err(|why| why.to_string())
        };
        self.level.get_or_init(make).as_ref().ok()
    }

    #[cfg(feature = "files")]
    pub fn year(&self) -> Option<&YearSheet> {
        let make = || {
            let plan = self.model.year_plan(self.inputs).map_err(|why| why.to_string())?;
            let mut work = crate::tower::poppe::CrossflowWorkspace::default();
            let hour = |hour: &Hour| plan.hour(hour, &mut work);
            let hours: Vec<_> = self.ready.weather.iter().map(hour).collect();
            Ok(plan.sheet(&hours))
        };
        self.year.get_or_init(make).as_ref().ok()
    }
}
