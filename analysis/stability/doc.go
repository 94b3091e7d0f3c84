// Package stability reckons the Allan family of deviations, tells which kind of
// noise rules at each averaging time, and how sure the figures are.
//
// The definitions are those of W. J. Riley, Handbook of Frequency Stability
// Analysis, NIST SP 1065, written there as here with x for phase (time error, in
// seconds), y for fractional frequency, tau0 for the interval between points and
// m for the averaging factor, tau = m·tau0.
//
// A NaN among the data is a gap: terms that touch it are left out. NaN and
// infinity never come back.
package stability
