//go:build race

package held

// detecting tells that the race detector runs: a race doesn't hide in a seed, and each
// takes many times as long.
const detecting = true
