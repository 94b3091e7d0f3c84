// Package stability reckons the Allan family of deviations, tells which kind of
// noise rules at each averaging time, and how sure the figures are.
//
// The definitions are those of W. J. Riley, Handbook of Frequency Stability
// Analysis, NIST SP 1065, written there as here with x for phase (time error, in
// seconds), y for fractional frequency, tau0 for the interval between points and
// m for the averaging factor, tau = m·tau0.
//
// Table holds the whole series and tells all. Family takes it point by point, at any
// averaging factors, and tells all but TOTDEV. Stream tells one thing of these, OADEV
// at octaves, and is there for its speed, some five times a Family's (BenchmarkStream,
// BenchmarkFamily): the rate of each beat as it comes, or of a week of them, has no
// more time to spare. Every second point of its octave makes the next, and a few terms
// of it are others than a Family's; factors that don't divide each other have no such
// ladder.
//
// A NaN among the data is a gap: terms that touch it are left out. NaN and
// infinity never come back.
package stability
