//go:build !race

package held

const detecting = false
