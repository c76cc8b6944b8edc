//! The analyses of a site as they were given, beside what is used.

use super::{GivenAndUsed, Inputs, Model};
use crate::site::SiteAnalysis;

/// An analysis as it was given, beside what is used.
#[derive(Debug, Clone, PartialEq)]
pub struct UsedAnalysis {
    /// Which water.
    pub name: String,
    /// The day of the sample, as in `2026-06-01`.
    pub sampled: Option<String>,
    /// Days that the sample is older than the newest of the site; `None` where it has no day.
    pub days_before_newest: Option<i64>,
    /// pH, where it was found.
    pub ph: Option<f64>,
    /// Every entry.
    pub entries: Vec<GivenAndUsed>,
}

impl Model {
    /// Every analysis as it was given and as it is used: of each makeup, then of the circulating water.
    pub fn analyses_used(&self, inputs: &Inputs) -> Vec<UsedAnalysis> {
        let makeup = self.site.makeup.iter().map(|source| &source.analysis);
        let all = makeup.chain(&self.site.chemistry.circulating_water);
        let newest = all.filter_map(|analysis| analysis.sampled).max();
        let used = |name: String, analysis: &SiteAnalysis| UsedAnalysis {
            name,
            sampled: analysis.sampled.map(|day| day.to_string()),
            days_before_newest: newest
                .zip(analysis.sampled)
                .map(|(newest, day)| newest.days_after(day)),
            ph: analysis.ph.map(|slot| inputs.get(slot)),
            entries: self.given_and_used(inputs, analysis),
        };
        let makeup = self
            .site
            .makeup
            .iter()
            .map(|source| used(format!("makeup {}", source.name), &source.analysis));
        let own = self.site.chemistry.circulating_water.iter();
        let own = own.map(|analysis| used("circulating water".into(), analysis));
        makeup.chain(own).filter(|analysis| !analysis.entries.is_empty()).collect()
    }
}
