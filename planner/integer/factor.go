package integer

import "math"

// factor holds a basis as sparse triangular factors and the pivots made since.
//
// Columns with one entry in the rows still open, then rows with one entry in the
// columns still open, are taken first and cause no fill; what is left (small for
// programs that are mostly flows) is eliminated column by column, thinnest first.
type factor struct {
	m    int
	rowp []int32 // pivot k is in this row
	colp []int32 // and in this basis position
	diag []float64
	ls   []int32 // multipliers of pivot k are lrow[ls[k]:ls[k+1]]
	lrow []int32
	lval []float64
	us   []int32 // entries of its column in rows of earlier pivots
	urow []int32
	uval []float64
	lnz  []int32 // pivots that have multipliers

	es    []int32 // pivots made since: position r, value there, the other entries
	er    []int32
	ev    []float64
	ei    []int32
	ex    []float64
	work  []float64
	stamp []int32
}

const tinyPivot = 1e-9

// factorise builds factors of the basis head over columns (cp, ci, cv), logical
// columns n+i being −1 in row i. It returns the positions that found no pivot, with
// the rows left without one, when the basis is singular.
func (f *factor) factorise(m, n int, head []int32, cp, ci []int32, cv []float64) (badPos, badRow []int32) {
	f.m = m
	f.rowp, f.colp, f.diag = f.rowp[:0], f.colp[:0], f.diag[:0]
	f.ls, f.lrow, f.lval = append(f.ls[:0], 0), f.lrow[:0], f.lval[:0]
	f.us, f.urow, f.uval = append(f.us[:0], 0), f.urow[:0], f.uval[:0]
	f.lnz = f.lnz[:0]
	f.es, f.er, f.ev, f.ei, f.ex = append(f.es[:0], 0), f.er[:0], f.ev[:0], f.ei[:0], f.ex[:0]
	if len(f.work) < m {
		f.work = make([]float64, m)
		f.stamp = make([]int32, m)
	}
	rowDone := make([]bool, m)
	posDone := make([]bool, m)
	rowCount := make([]int32, m)
	colCount := make([]int32, m)
	// Rows of the basis matrix, structural columns only.
	for p, j := range head {
		if int(j) >= n {
			continue
		}
		for k := cp[j]; k < cp[j+1]; k++ {
			rowCount[ci[k]]++
		}
		colCount[p] = cp[j+1] - cp[j]
	}
	start := make([]int32, m+1)
	for i := range m {
		start[i+1] = start[i] + rowCount[i]
	}
	byRow := make([]int32, start[m])
	at := append([]int32(nil), start[:m]...)
	for p, j := range head {
		if int(j) >= n {
			continue
		}
		for k := cp[j]; k < cp[j+1]; k++ {
			byRow[at[ci[k]]] = int32(p)
			at[ci[k]]++
		}
	}
	var stackC, stackR []int32
	take := func(row, pos int32) {
		rowDone[row], posDone[pos] = true, true
		for _, p := range byRow[start[row]:start[row+1]] {
			if !posDone[p] {
				if colCount[p]--; colCount[p] == 1 {
					stackC = append(stackC, p)
				}
			}
		}
	}
	end := func() {
		f.ls = append(f.ls, int32(len(f.lrow)))
		f.us = append(f.us, int32(len(f.urow)))
	}
	for p, j := range head {
		if int(j) >= n {
			row := j - int32(n)
			if rowDone[row] {
				continue
			}
			f.rowp, f.colp, f.diag = append(f.rowp, row), append(f.colp, int32(p)), append(f.diag, -1)
			end()
			take(row, int32(p))
		}
	}
	for p := range head {
		if !posDone[p] && colCount[p] == 1 {
			stackC = append(stackC, int32(p))
		}
	}
	for i := range m {
		if rowDone[i] {
			rowCount[i] = 0
			continue
		}
		rowCount[i] = 0
		for _, p := range byRow[start[i]:start[i+1]] {
			if !posDone[p] {
				rowCount[i]++
			}
		}
		if rowCount[i] == 1 {
			stackR = append(stackR, int32(i))
		}
	}
	closeCol := func(pos int32) { // its rows have one open column fewer
		j := head[pos]
		for k := cp[j]; k < cp[j+1]; k++ {
			if i := ci[k]; !rowDone[i] {
				if rowCount[i]--; rowCount[i] == 1 {
					stackR = append(stackR, i)
				}
			}
		}
	}
	for len(stackC) > 0 || len(stackR) > 0 {
		if len(stackC) > 0 {
			p := stackC[len(stackC)-1]
			stackC = stackC[:len(stackC)-1]
			if posDone[p] || colCount[p] != 1 {
				continue
			}
			j := head[p]
			row, val := int32(-1), 0.0
			for k := cp[j]; k < cp[j+1]; k++ {
				if !rowDone[ci[k]] {
					row, val = ci[k], cv[k]
				}
			}
			if row < 0 || math.Abs(val) < tinyPivot {
				continue
			}
			for k := cp[j]; k < cp[j+1]; k++ {
				if rowDone[ci[k]] {
					f.urow, f.uval = append(f.urow, ci[k]), append(f.uval, cv[k])
				}
			}
			f.rowp, f.colp, f.diag = append(f.rowp, row), append(f.colp, p), append(f.diag, val)
			end()
			take(row, p)
			continue
		}
		i := stackR[len(stackR)-1]
		stackR = stackR[:len(stackR)-1]
		if rowDone[i] || rowCount[i] != 1 {
			continue
		}
		pos := int32(-1)
		for _, p := range byRow[start[i]:start[i+1]] {
			if !posDone[p] {
				pos = p
			}
		}
		if pos < 0 {
			continue
		}
		j := head[pos]
		var piv float64
		for k := cp[j]; k < cp[j+1]; k++ {
			if ci[k] == i {
				piv = cv[k]
			}
		}
		for k := cp[j]; k < cp[j+1]; k++ {
			switch {
			case ci[k] == i:
			case rowDone[ci[k]]:
				f.urow, f.uval = append(f.urow, ci[k]), append(f.uval, cv[k])
			default:
				f.lrow, f.lval = append(f.lrow, ci[k]), append(f.lval, cv[k]/piv)
			}
		}
		f.lnzAdd()
		f.rowp, f.colp, f.diag = append(f.rowp, i), append(f.colp, pos), append(f.diag, piv)
		end()
		closeCol(pos)
		take(i, pos)
	}
	return f.kernel(n, head, cp, ci, cv, rowDone, posDone, rowCount)
}

func (f *factor) lnzAdd() {
	if int(f.ls[len(f.ls)-1]) < len(f.lrow) {
		f.lnz = append(f.lnz, int32(len(f.rowp)))
	}
}

// kernel eliminates what has neither thin rows nor thin columns, from the left.
func (f *factor) kernel(n int, head []int32, cp, ci []int32, cv []float64, rowDone, posDone []bool, rowCount []int32) (badPos, badRow []int32) {
	var todo []int32
	for p := range head {
		if !posDone[p] {
			todo = append(todo, int32(p))
		}
	}
	if len(todo) == 0 {
		return nil, nil
	}
	size := func(p int32) int32 {
		j := head[p]
		if int(j) >= n {
			return 1
		}
		return cp[j+1] - cp[j]
	}
	// Thinnest first; equal ones in the order of the basis.
	for gap := len(todo) / 2; gap > 0; gap /= 2 {
		for i := gap; i < len(todo); i++ {
			for k := i; k >= gap && less(size(todo[k]), todo[k], size(todo[k-gap]), todo[k-gap]); k -= gap {
				todo[k], todo[k-gap] = todo[k-gap], todo[k]
			}
		}
	}
	x := f.work
	var nz []int32
	for _, p := range todo {
		nz = nz[:0]
		j := head[p]
		if int(j) >= n {
			i := j - int32(n)
			x[i] = -1
			nz = append(nz, i)
		} else {
			for k := cp[j]; k < cp[j+1]; k++ {
				x[ci[k]] = cv[k]
				nz = append(nz, ci[k])
			}
		}
		for _, i := range nz {
			f.stamp[i] = 1
		}
		for _, k := range f.lnz {
			v := x[f.rowp[k]]
			if v == 0 {
				continue
			}
			for e := f.ls[k]; e < f.ls[k+1]; e++ {
				i := f.lrow[e]
				if f.stamp[i] == 0 {
					f.stamp[i] = 1
					nz = append(nz, i)
				}
				x[i] -= f.lval[e] * v
			}
		}
		best, biggest := int32(-1), 0.0
		for _, i := range nz {
			if !rowDone[i] {
				biggest = max(biggest, math.Abs(x[i]))
			}
		}
		if biggest > 1e-7 {
			for _, i := range nz {
				if !rowDone[i] && math.Abs(x[i]) >= 0.1*biggest &&
					(best < 0 || rowCount[i] < rowCount[best] || rowCount[i] == rowCount[best] && math.Abs(x[i]) > math.Abs(x[best])) {
					best = i
				}
			}
		}
		if best < 0 {
			badPos = append(badPos, p)
		} else {
			piv := x[best]
			for _, i := range nz {
				switch {
				case i == best || math.Abs(x[i]) < 1e-13:
				case rowDone[i]:
					f.urow, f.uval = append(f.urow, i), append(f.uval, x[i])
				default:
					f.lrow, f.lval = append(f.lrow, i), append(f.lval, x[i]/piv)
				}
			}
			f.lnzAdd()
			f.rowp, f.colp, f.diag = append(f.rowp, best), append(f.colp, p), append(f.diag, piv)
			f.ls = append(f.ls, int32(len(f.lrow)))
			f.us = append(f.us, int32(len(f.urow)))
			rowDone[best] = true
		}
		for _, i := range nz {
			x[i], f.stamp[i] = 0, 0
		}
	}
	if len(badPos) > 0 {
		for i := range rowDone[:f.m] {
			if !rowDone[i] {
				badRow = append(badRow, int32(i))
			}
		}
	}
	return badPos, badRow
}

func less(a, at, b, bt int32) bool { return a < b || a == b && at < bt }

// ftran solves B z = x. x is indexed by row and destroyed; z by position.
func (f *factor) ftran(x, z []float64) {
	for _, k := range f.lnz {
		if v := x[f.rowp[k]]; v != 0 {
			for e := f.ls[k]; e < f.ls[k+1]; e++ {
				x[f.lrow[e]] -= f.lval[e] * v
			}
		}
	}
	for k := f.m - 1; k >= 0; k-- {
		v := x[f.rowp[k]]
		if v == 0 {
			z[f.colp[k]] = 0
			continue
		}
		v /= f.diag[k]
		for e := f.us[k]; e < f.us[k+1]; e++ {
			x[f.urow[e]] -= f.uval[e] * v
		}
		if v < 1e-14 && v > -1e-14 {
			v = 0
		}
		z[f.colp[k]] = v
	}
	for t, r := range f.er {
		v := z[r]
		if v == 0 {
			continue
		}
		v /= f.ev[t]
		for e := f.es[t]; e < f.es[t+1]; e++ {
			z[f.ei[e]] -= f.ex[e] * v
		}
		z[r] = v
	}
}

// btran solves yᵀ B = cᵀ. c is indexed by position and destroyed; y by row.
func (f *factor) btran(c, y []float64) {
	for t := len(f.er) - 1; t >= 0; t-- {
		v := c[f.er[t]]
		for e := f.es[t]; e < f.es[t+1]; e++ {
			v -= f.ex[e] * c[f.ei[e]]
		}
		c[f.er[t]] = v / f.ev[t]
	}
	for k := range f.m {
		v := c[f.colp[k]]
		for e := f.us[k]; e < f.us[k+1]; e++ {
			v -= f.uval[e] * y[f.urow[e]]
		}
		if v != 0 {
			v /= f.diag[k]
			if v < 1e-14 && v > -1e-14 {
				v = 0
			}
		}
		y[f.rowp[k]] = v
	}
	for t := len(f.lnz) - 1; t >= 0; t-- {
		k := f.lnz[t]
		v := y[f.rowp[k]]
		for e := f.ls[k]; e < f.ls[k+1]; e++ {
			v -= f.lval[e] * y[f.lrow[e]]
		}
		y[f.rowp[k]] = v
	}
}

// replace records that the column whose ftran is z enters at position r.
func (f *factor) replace(r int, z []float64) {
	for i, v := range z[:f.m] {
		if v != 0 && i != r {
			f.ei, f.ex = append(f.ei, int32(i)), append(f.ex, v)
		}
	}
	f.er, f.ev = append(f.er, int32(r)), append(f.ev, z[r])
	f.es = append(f.es, int32(len(f.ei)))
}
