package order

import (
	"cmp"
	"slices"

	"flitchbook/planner/unit"
)

// plan reads a solution: what is bought, and where every piece goes. Frozen pieces are
// handed out first in, first out.
func (m *model) plan(x []int64) Plan {
	p := m.p
	var plan Plan
	have := make([][]int, len(p.Offers)) // pieces by offer and kind
	for o := range have {
		have[o] = make([]int, len(p.Kinds))
	}
	for _, u := range m.units {
		n := int(x[u.col])
		if n == 0 {
			continue
		}
		of := &p.Offers[u.offer]
		plan.Orders = append(plan.Orders, Order{of.ID, p.Forms[u.form].Name, n})
		for _, pr := range of.Prices {
			if pr.Form == p.Forms[u.form].Name {
				plan.Cost += unit.Money(n) * pr.Unit
			}
		}
		for _, g := range p.Forms[u.form].Gives {
			have[u.offer][m.kind[g.Name]] += n * g.N
		}
	}
	for o := range p.Offers {
		if slices.ContainsFunc(plan.Orders, func(r Order) bool { return r.Offer == p.Offers[o].ID }) {
			plan.Cost += p.Offers[o].Drop
		}
	}
	var uses []useCol // with col holding the number of pieces
	var frozen []bool
	use := func(u useCol, n int, cold bool) {
		if n == 0 {
			return
		}
		u.col = n
		uses, frozen = append(uses, u), append(frozen, cold)
		have[u.offer][u.kind] -= n
		if cold {
			plan.Cost += unit.Money(n) * p.Kinds[u.kind].FreezeCost
		}
	}
	for _, u := range m.fresh {
		use(u, int(x[u.col]), false)
	}
	for _, u := range m.frozen {
		use(u, int(x[u.col]), true)
	}
	for k := range p.Kinds {
		m.handOut(k, x, func(u useCol, n int) { use(u, n, true) })
	}
	for _, s := range m.sold {
		if n := int(x[s.col]); n > 0 {
			plan.Sold = append(plan.Sold, Piece{p.Offers[s.offer].ID, p.Kinds[s.kind].Name, n})
			have[s.offer][s.kind] -= n
			plan.Cost -= unit.Money(n) * p.Kinds[s.kind].Value
		}
	}
	for o := range p.Offers {
		for _, k := range m.topDown() {
			n := 0
			for _, b := range m.broken {
				if b.offer == o && b.kind == k {
					n = int(x[b.col])
				}
			}
			if len(p.Kinds[k].BreaksInto) > 0 {
				n = max(n, have[o][k]) // what is left whole is broken all the same
			}
			if n > 0 {
				plan.Broken = append(plan.Broken, Piece{p.Offers[o].ID, p.Kinds[k].Name, n})
				have[o][k] -= n
				for _, b := range p.Kinds[k].BreaksInto {
					have[o][m.kind[b.Name]] += n * b.N
				}
			}
		}
		for k, n := range have[o] {
			if n > 0 {
				plan.Waste = append(plan.Waste, Piece{p.Offers[o].ID, p.Kinds[k].Name, n})
			}
		}
	}
	at := make([]int, len(uses))
	for i := range at {
		at[i] = i
	}
	slices.SortStableFunc(at, func(a, b int) int {
		return cmp.Or(cmp.Compare(uses[a].class, uses[b].class), cmp.Compare(uses[a].kind, uses[b].kind), cmp.Compare(uses[a].offer, uses[b].offer))
	})
	for _, i := range at {
		u := uses[i]
		plan.Uses = append(plan.Uses, Use{p.Offers[u.offer].ID, p.Classes[u.class].ID, p.Kinds[u.kind].Name, u.col, frozen[i]})
	}
	return plan
}

// handOut gives the pieces of a pooled freezer to the classes that take from it, the
// oldest to the earliest.
func (m *model) handOut(k int, x []int64, give func(u useCol, n int)) {
	p := m.p
	var in []pieceCol
	var out []useCol
	for _, z := range m.in {
		if z.kind == k && x[z.col] > 0 {
			in = append(in, pieceCol{int(x[z.col]), z.offer, k})
		}
	}
	for _, v := range m.out {
		if v.kind == k && x[v.col] > 0 {
			out = append(out, useCol{int(x[v.col]), -1, v.class, k})
		}
	}
	slices.SortStableFunc(in, func(a, b pieceCol) int { return cmp.Compare(p.Offers[a.offer].Day, p.Offers[b.offer].Day) })
	slices.SortStableFunc(out, func(a, b useCol) int { return cmp.Compare(p.Classes[a.class].Day, p.Classes[b.class].Day) })
	for i, j := 0, 0; i < len(in) && j < len(out); {
		n := min(in[i].col, out[j].col)
		give(useCol{0, in[i].offer, out[j].class, k}, n)
		if in[i].col -= n; in[i].col == 0 {
			i++
		}
		if out[j].col -= n; out[j].col == 0 {
			j++
		}
	}
}
