// Package simulate holds instruments with physics behind them: a caliper with its own
// fixed error, a pendulum clock that feels temperature, pressure and its mainspring,
// and the sensor that listens to it. Each knows its truth, against which whatever is
// found from its bytes can be checked.
//
// Everything follows from a seed: the same configuration gives the same bytes. No
// simulated part reads a clock. Time is seconds since the start of the scene. Bench
// plays the bytes in virtual time through a real pseudo-terminal.
package simulate
