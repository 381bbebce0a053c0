package integer

// basisCopy is where the simplex method stood: which columns were in the basis, at
// which end the others, and the steepest-edge weights of the former in column order.
type basisCopy struct {
	state  []int8
	weight []float32
}

// mostKept bounds how many nodes keep their basis; the rest start from the top's.
const mostKept = 4000

func (s *search) keepBasis() *basisCopy {
	l := &s.l
	b := &basisCopy{append([]int8(nil), l.state...), make([]float32, 0, l.m)}
	for p, j := range l.head {
		l.row[j] = l.weight[p]
	}
	for j, st := range l.state {
		if st == basic {
			b.weight = append(b.weight, float32(l.row[j]))
		}
	}
	for _, j := range l.head {
		l.row[j] = 0
	}
	return b
}

// remember gives a node the present basis, while there is room for that.
func (s *search) remember(nd *node) {
	nd.basis = nil
	if len(s.open)+len(s.closed) < mostKept {
		nd.basis = s.keepBasis()
	}
}

// restore puts the simplex method back where it stood; to the top when that was not kept.
func (s *search) restore(b *basisCopy) {
	if b == nil {
		b = s.top
	}
	if b == nil {
		return
	}
	l := &s.l
	copy(l.state, b.state)
	p := 0
	for j, st := range b.state {
		if st == basic {
			l.head[p], l.weight[p] = int32(j), float64(b.weight[p])
			p++
		}
	}
}
