package world

import "slices"

// index finds the schools near a place at a minute without asking all of them.
type index struct {
	first []int16 // where a cell's schools begin in order: [minute*(cells+1)+cell]
	order []int16 // schools by cell: [minute*n+k]
}

const (
	indexM    = 50.0 // side of a cell
	indexCols = int(WidthM/indexM) + 1
	indexRows = int(HeightM/indexM) + 1
	bounds    = indexCols*indexRows + 1 // of the cells in order
)

func indexCell(x, y float64) (i, j int) {
	return min(max(0, int(x/indexM)), indexCols-1), min(max(0, int(y/indexM)), indexRows-1)
}

// indexed sorts n schools into cells, minute by minute; within a cell they stay in order.
func indexed(n int, xs, ys []float32) index {
	ix := index{order: make([]int16, len(xs))}
	if n == 0 {
		return ix
	}
	steps := len(xs) / n
	ix.first = make([]int16, steps*bounds)
	in := make([]int16, n)
	for m := range steps {
		first, order := ix.first[m*bounds:(m+1)*bounds], ix.order[m*n:(m+1)*n]
		for i := range n {
			c, r := indexCell(float64(xs[m*n+i]), float64(ys[m*n+i]))
			in[i] = int16(r*indexCols + c)
			first[in[i]+1]++
		}
		for k := 1; k < bounds; k++ {
			first[k] += first[k-1]
		}
		next := first[:bounds-1]
		for i := range n { // first is moved to the cells' ends, and back below
			order[next[in[i]]] = int16(i)
			next[in[i]]++
		}
		copy(first[1:], next)
		first[0] = 0
	}
	return ix
}

// near appends, in ascending order, the schools whose middle lies within reach of a place at a minute.
func (d *Day) near(out []int16, minute int, x, y, reachM float64) []int16 {
	if d.n == 0 {
		return out
	}
	first, order := d.index.first[minute*bounds:(minute+1)*bounds], d.index.order[minute*d.n:(minute+1)*d.n]
	xs, ys := d.xs[minute*d.n:(minute+1)*d.n], d.ys[minute*d.n:(minute+1)*d.n]
	x32, y32, reach2 := float32(x), float32(y), float32(reachM*reachM)
	i0, j0 := indexCell(x-reachM-1, y-reachM-1)
	i1, j1 := indexCell(x+reachM+1, y+reachM+1)
	for j := j0; j <= j1; j++ {
		for _, i := range order[first[j*indexCols+i0]:first[j*indexCols+i1+1]] {
			if dx, dy := xs[i]-x32, ys[i]-y32; dx*dx+dy*dy < reach2 {
				out = append(out, i)
			}
		}
	}
	slices.Sort(out)
	return out
}
