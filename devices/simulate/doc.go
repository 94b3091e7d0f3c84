// Package simulate holds instruments with physics behind them: a caliper that
// has its own fixed error, a pendulum clock that knows temperature, pressure and
// its own mainspring, and the sensor that listens to it. Each knows its truth,
// so that whatever is found from its bytes can be held against it.
//
// Everything follows from a seed: the same configuration gives the same bytes.
// No simulated part reads a clock; time is seconds since the start of the
// scene. Bench plays the bytes in virtual time through a real pseudo-terminal.
package simulate
