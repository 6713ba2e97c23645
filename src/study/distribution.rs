//! How a value is spread over a population.

use crate::error::{At, Error};
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Normal};

/// A distribution, by its quantile function. Numbers SI.
///
/// ```text
/// normal       mean + sd z(p)
/// uniform      low + (high - low) p
/// triangular   low + sqrt(p (high - low)(mode - low))            below the mode
///              high - sqrt((1 - p)(high - low)(high - mode))     above it
/// lognormal    median exp(ln(factor) z(p))
/// sample       straight lines between the sorted values, value k of n at p = k / (n - 1), k from 0
/// ```
/// `z` is the standard normal quantile. The sample's rule is the seventh of R. J. Hyndman and Y. Fan, Am. Stat. 50 (1996) 361.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Distribution {
    /// Bell curve.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation.
        sd: f64,
    },
    /// Equal chance between two ends.
    Uniform {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Straight up to the mode and straight down.
    Triangular {
        /// Lower end.
        low: f64,
        /// Most likely value.
        mode: f64,
        /// Upper end.
        high: f64,
    },
    /// Normal in the logarithm.
    Lognormal {
        /// Median.
        median: f64,
        /// Geometric standard deviation: about 68 % lie between median / factor and median x factor.
        factor: f64,
    },
    /// Measured values.
    Sample {
        /// In rising order.
        values: Vec<f64>,
    },
}

/// The standard normal quantile; that of NaN is NaN.
pub fn normal_quantile(p: f64) -> f64 {
    if p.is_nan() {
        return f64::NAN;
    }
    // The standard normal always exists; quantiles are asked inside (0, 1).
    Normal::new(0.0, 1.0).map_or(f64::NAN, |n| n.inverse_cdf(p.clamp(0.0, 1.0)))
}

/// The standard normal distribution function.
pub fn normal_probability(z: f64) -> f64 {
    Normal::new(0.0, 1.0).map_or(f64::NAN, |n| n.cdf(z))
}

impl Distribution {
    /// Checks the parameters.
    ///
    /// # Errors
    /// [`Error::Syntax`] at `at` with the rule.
    pub fn checked(self, name: &str, at: &At) -> Result<Distribution, Error> {
        let rule = match &self {
            Distribution::Normal { sd, .. } if !(*sd >= 0.0) => "a standard deviation (sd) cannot be negative",
            Distribution::Uniform { low, high } if !(low <= high) => "low must not be above high",
            Distribution::Triangular { low, mode, high } if !(low <= mode && mode <= high) => {
                "low, mode and high must stand in this order"
            }
            Distribution::Lognormal { median, .. } if !(*median > 0.0) => {
                "the median of a lognormal must be above zero"
            }
            Distribution::Lognormal { factor, .. } if !(*factor >= 1.0) => {
                "the factor of a lognormal (geometric standard deviation) cannot be below 1"
            }
            Distribution::Sample { values } if values.len() < 2 => "a measured sample needs at least two values",
            _ => return Ok(self),
        };
        Err(Error::Syntax { at: at.clone(), message: format!("spread of {name}: {rule}") })
    }

    /// The value that the share `p` of the population does not exceed.
    pub fn quantile(&self, p: f64) -> f64 {
        match self {
            Distribution::Normal { mean, sd } => mean + sd * normal_quantile(p),
            Distribution::Uniform { low, high } => low + (high - low) * p,
            Distribution::Triangular { low, mode, high } => {
                let width = high - low;
                if p * width <= mode - low {
                    low + (p * width * (mode - low)).sqrt()
                } else {
                    high - ((1.0 - p) * width * (high - mode)).sqrt()
                }
            }
            Distribution::Lognormal { median, factor } => median * (factor.ln() * normal_quantile(p)).exp(),
            Distribution::Sample { values } => sorted_quantile(values, p),
        }
    }

    /// A number to show as its middle: mean, mode or median.
    pub fn middle(&self) -> f64 {
        match self {
            Distribution::Normal { mean, .. } => *mean,
            Distribution::Triangular { mode, .. } => *mode,
            _ => self.quantile(0.5),
        }
    }
}

/// Quantile of sorted values by straight lines between them; NaN of none.
pub fn sorted_quantile(sorted: &[f64], p: f64) -> f64 {
    let place = p.clamp(0.0, 1.0) * sorted.len().saturating_sub(1) as f64;
    let low = place.floor();
    match (sorted.get(low as usize), sorted.get(place.ceil() as usize)) {
        (Some(a), Some(b)) => a + (place - low) * (b - a),
        _ => f64::NAN,
    }
}
