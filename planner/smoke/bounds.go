package smoke

import (
	"math/bits"
	"slices"
)

// bounds says what a state will cost at least to its end.
type bounds struct {
	items   []item
	class   []int   // of an item: parties that the same mixes take
	apart   [][]int // sets of classes of which no two ever share a load
	stabs   [][]int // stabs[c][i]: loads that the parties of class c that come on day i or later need at least
	late    []int   // late[i]: late days, at least, of all parties that come on day i or later
	size    []int   // size[i]: their slabs
	most    int     // hooks of the largest load
	classes int
	first   []int // reused: by class, when the first waiting party must hang
}

func boundsOf(items []item, days []OpenDay) *bounds {
	n := len(days)
	b := &bounds{items: items, class: make([]int, len(items)), late: make([]int, n+2), size: make([]int, n+2)}
	for _, o := range days {
		if o.Loads > 0 {
			b.most = max(b.most, o.Hooks)
		}
	}
	var masks []uint64
	for i, t := range items {
		c := slices.Index(masks, t.mixes)
		if c < 0 {
			c = len(masks)
			masks = append(masks, t.mixes)
		}
		b.class[i] = c
		b.late[t.first] += t.cost[0]
		b.size[t.first] += t.size
	}
	for i := n - 1; i >= 0; i-- {
		b.late[i] += b.late[i+1]
		b.size[i] += b.size[i+1]
	}
	b.classes = len(masks)
	b.first = make([]int, b.classes)
	for c := range masks {
		last := make([]int, n+2) // earliest last day of the class's parties that come on day i or later
		for i := range last {
			last[i] = n
		}
		for k, t := range items {
			if b.class[k] == c {
				last[t.first] = min(last[t.first], t.last)
			}
		}
		stab := make([]int, n+2)
		for i := n - 1; i >= 0; i-- {
			last[i] = min(last[i], last[i+1])
			if last[i] < n {
				stab[i] = 1 + stab[last[i]+1]
			}
		}
		b.stabs = append(b.stabs, stab)
	}
	b.cliques(masks, nil, 0)
	return b
}

// mostApart is how many sets are looked at; fewer only make the bound weaker.
const mostApart = 200

// cliques lists the largest sets of classes without a mix in common.
func (b *bounds) cliques(masks []uint64, in []int, from int) {
	if len(b.apart) == mostApart {
		return
	}
	free := func(c int) bool {
		return !slices.ContainsFunc(in, func(k int) bool { return masks[k]&masks[c] != 0 })
	}
	largest := true
	for c := range masks {
		if slices.Contains(in, c) || !free(c) {
			continue
		}
		largest = false
		if c >= from {
			b.cliques(masks, append(slices.Clone(in), c), c+1)
		}
	}
	if largest {
		b.apart = append(b.apart, in)
	}
}

// least is the price to the end from the evening before day next, at least. at tells
// the parties by their slots.
func (b *bounds) least(evening waits, next int, at []int) price {
	late, size := b.late[next], b.size[next]
	for c := range b.first {
		b.first[c] = -1
	}
	for i := range evening {
		for x := evening[i]; x != 0; x &= x - 1 {
			t := at[i<<6+bits.TrailingZeros64(x)]
			it := &b.items[t]
			late += it.late(next)
			size += it.size
			if c := b.class[t]; b.first[c] < 0 || it.last < b.first[c] {
				b.first[c] = it.last
			}
		}
	}
	loads := 0
	if b.most > 0 {
		loads = (size + b.most - 1) / b.most
	}
	for _, set := range b.apart {
		sum := 0
		for _, c := range set {
			s := b.stabs[c][next]
			if e := b.first[c]; e >= 0 {
				s = max(s, 1+b.stabs[c][e+1])
			}
			sum += s
		}
		loads = max(loads, sum)
	}
	return oneLate*price(late) + price(loads)
}
