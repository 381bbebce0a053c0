package smoke

// fill picks the groups, in order, that fill most of the hooks with at most bottom
// slabs in the bottom row; of equal fills the one that takes the earlier group at the
// first difference. It returns the picks and the hooks filled.
func fill(groups []group, hooks, bottom int) ([]bool, int) {
	n := len(groups)
	// best[i][h][b]: most hooks that groups i.. can fill with h hooks and b bottom
	// hooks to give.
	width := bottom + 1
	size := (hooks + 1) * width
	best := make([][]int16, n+1)
	best[n] = make([]int16, size)
	for i := n - 1; i >= 0; i-- {
		row, next := make([]int16, size), best[i+1]
		s, a := len(groups[i].Tags), groups[i].Bottom
		for h := 0; h <= hooks; h++ {
			for b := 0; b <= bottom; b++ {
				v := next[h*width+b]
				if s <= h && a <= b {
					v = max(v, int16(s)+next[(h-s)*width+b-a])
				}
				row[h*width+b] = v
			}
		}
		best[i] = row
	}
	picks := make([]bool, n)
	total := int(best[0][hooks*width+bottom])
	h, b := hooks, bottom
	for i, g := range groups {
		s, a := len(g.Tags), g.Bottom
		if s <= h && a <= b && int16(s)+best[i+1][(h-s)*width+b-a] == best[i][h*width+b] {
			picks[i] = true
			h, b = h-s, b-a
		}
	}
	return picks, total
}
