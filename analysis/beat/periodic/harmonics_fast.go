package periodic

// addWhole takes the whole items from id on of beats that were all heard, and returns of
// how many beats they are. It is the fast twin of the sum in wave.add: without it the
// rate of a week takes 2 to 3 % more CPU.
func (w *wave) addWhole(id int64, beats []float64) int {
	n, size := 0, int(w.length)
	for ; len(beats)-n >= size; id++ {
		x := 0.0
		for _, v := range beats[n : n+size] {
			x += v
		}
		w.take(id, float64(size), x)
		n += size
	}
	return n
}
