package simulate

import "math/rand/v2"

// Streams keep the random sources of one seed apart, so that a longer scene or a change
// in one part doesn't change the draws of the others.
const (
	streamRoom = iota + 1
	streamWalk
	streamCounter
	streamBeat
	streamFlicker
	streamDial
	streamCaliper
	streamPress
	streamBarrel
	streamScene
)

// source returns the generator of one stream of a seed.
func source(seed, stream uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, stream)) }

// numbered draws by number instead of in order: what happens at beat 400,000 is the
// same whether or not the beats before it were drawn.
type numbered struct {
	pcg  rand.PCG
	rng  *rand.Rand
	seed uint64
}

func newNumbered(seed uint64) *numbered {
	n := &numbered{seed: seed}
	n.rng = rand.New(&n.pcg)
	return n
}

// at returns the generator as it stands for the k-th thing of a stream. The multiplier
// (2^64 over the golden ratio, from memory) is odd, so it spreads neighbouring numbers
// over the whole state and maps no two to one.
func (n *numbered) at(stream uint64, k int64) *rand.Rand {
	n.pcg.Seed(n.seed+stream<<56, uint64(k)*0x9e3779b97f4a7c15)
	return n.rng
}

// flickerOctaves reach from one beat to 2^20 of them: two weeks of seconds.
const flickerOctaves = 21

// flicker returns the k-th value of a noise whose power falls as 1/f: a sum of
// independent normal values, each held for twice as many steps as the one before (Voss's
// method, from memory). Each octave has standard deviation 1.
func (n *numbered) flicker(k int64) float64 {
	sum := 0.0
	for j := range uint64(flickerOctaves) {
		// 32 is more than the octaves, so no two draws share a number.
		sum += n.at(streamFlicker, k>>j*32+int64(j)).NormFloat64()
	}
	return sum
}
