package plots

import (
	"math"

	"gonum.org/v1/plot/vg"
)

// spiral returns the path of a coil around a centre, from one radius at the angle start
// outwards to another, over so many turns: Archimedes' spiral
// r = from + (to − from)·θ/(2π·turns). It consists of cubic curves of an eighth of a turn,
// whose handles are a third of the spiral's own derivative (Hermite's form).
func spiral(centre vg.Point, from, to vg.Length, start, turns float64) vg.Path {
	pieces := max(1, int(math.Ceil(math.Abs(turns)*8)))
	step := 2 * math.Pi * turns / float64(pieces)
	growth := float64(to-from) / float64(pieces) / step // radius per radian
	at := func(i int) (p, d vg.Point) {
		theta := start + float64(i)*step
		r := float64(from) + float64(to-from)*float64(i)/float64(pieces)
		sin, cos := math.Sincos(theta)
		p = vg.Point{X: centre.X + vg.Length(r*cos), Y: centre.Y + vg.Length(r*sin)}
		d = vg.Point{X: vg.Length(growth*cos - r*sin), Y: vg.Length(growth*sin + r*cos)}
		return p, d
	}
	var path vg.Path
	p, d := at(0)
	path.Move(p)
	third := vg.Length(step / 3)
	for i := 1; i <= pieces; i++ {
		q, e := at(i)
		path.CubeTo(vg.Point{X: p.X + d.X*third, Y: p.Y + d.Y*third},
			vg.Point{X: q.X - e.X*third, Y: q.Y - e.Y*third}, q)
		p, d = q, e
	}
	return path
}

// annulus is the path between two circles. The inner runs the other way round, so that it
// stays open under either rule of filling.
func annulus(centre vg.Point, inner, outer vg.Length) vg.Path {
	path := circle(centre, outer)
	k := inner * vg.Length(4*(math.Sqrt2-1)/3)
	at := func(x, y vg.Length) vg.Point { return vg.Point{X: centre.X + x, Y: centre.Y + y} }
	path.Move(at(inner, 0))
	path.CubeTo(at(inner, -k), at(k, -inner), at(0, -inner))
	path.CubeTo(at(-k, -inner), at(-inner, -k), at(-inner, 0))
	path.CubeTo(at(-inner, k), at(-k, inner), at(0, inner))
	path.CubeTo(at(k, inner), at(inner, k), at(inner, 0))
	path.Close()
	return path
}
