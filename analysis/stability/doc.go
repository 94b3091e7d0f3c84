// Package stability computes the Allan family of deviations, identifies the power-law
// noise that dominates at each averaging time, and gives confidence intervals.
//
// The definitions are those of W. J. Riley, Handbook of Frequency Stability
// Analysis, NIST SP 1065, written there as here with x for phase (time error, in
// seconds), y for fractional frequency, tau0 for the interval between points and
// m for the averaging factor, tau = m·tau0.
//
// There are three ways to the same definitions:
//   - Table holds the whole series in memory and gives every deviation, of phase or
//     frequency, at any number of averaging factors.
//   - Family takes phases point by point, in bounded memory, at chosen factors. It gives
//     all but TOTDEV, which needs both ends of the series.
//   - Stream gives OADEV at octaves alone, some five times as fast as Family
//     (BenchmarkStream, BenchmarkFamily). The rate of a week of beats needs that. Each of
//     its octaves is made of every second point of the one before, which only factors
//     that divide each other allow, so that a few of its terms differ from Family's.
//
// A NaN among the data is a gap: terms that touch it are left out. No result is NaN or
// infinite.
package stability
