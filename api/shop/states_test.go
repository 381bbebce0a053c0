package shop

import (
	"slices"
	"testing"
)

// walk holds a table of moves against the same table written a second time, as the words of the trade give it, so
// that a slip in one of the two shows. Every pair of states is tried.
func walk[S ~string](t *testing.T, m Moves[S], wanted map[S][]S) {
	t.Helper()
	if len(wanted) != len(m.States) {
		t.Errorf("%s: %d states, want %d", m.Noun, len(m.States), len(wanted))
	}
	for _, from := range m.States {
		for _, to := range m.States {
			want := slices.Contains(wanted[from], to)
			if got := m.May(from, to); got != want {
				t.Errorf("%s: May(%q, %q) = %v, want %v", m.Noun, from, to, got, want)
			}
			if err := m.Check(from, to); (err == nil) != want {
				t.Errorf("%s: Check(%q, %q) = %v", m.Noun, from, to, err)
			}
		}
	}
	for from := range wanted {
		if !slices.Contains(m.States, from) {
			t.Errorf("%s: %q is missing", m.Noun, from)
		}
	}
}

func TestEveryPairOfStates(t *testing.T) {
	walk(t, BookingMoves, map[BookingState][]BookingState{
		"waiting": {"offered", "let go", "called off"}, "offered": {"held", "let go", "called off"},
		"held": {"firm", "let go", "called off"}, "firm": {"came", "missed", "let go", "moved", "called off"},
		"came": {"called off"}, "missed": {"came", "called off"}, // called off when some have come
		"let go": nil, "moved": nil, "called off": nil,
	})
	walk(t, ClassMoves, map[ClassState][]ClassState{
		"sketched": {"open", "called off"}, "open": {"going ahead", "called off"},
		"going ahead": {"taught", "called off"}, "taught": {"closed out"}, "closed out": nil, "called off": nil,
	})
	side := []SlabState{"on hold", "unproven", "dumped"}
	row := func(next SlabState) []SlabState { return append([]SlabState{next}, side...) }
	walk(t, SlabMoves, map[SlabState][]SlabState{
		"wanted": {"cut", "on hold", "dumped"}, "cut": row("kitted"), "kitted": row("in cure"), "in cure": row("rinsed"),
		"rinsed": row("in smoke"), "in smoke": row("resting"), "resting": row("packed"), "packed": row("on the shelf"),
		"on the shelf":   append([]SlabState{"collected", "in the freezer", "given up"}, side...),
		"in the freezer": append([]SlabState{"collected", "given up"}, side...),
		"on hold":        {"wanted", "cut", "kitted", "in cure", "rinsed", "in smoke", "resting", "packed", "on the shelf", "in the freezer", "unproven", "dumped"},
		"unproven":       {"rinsed", "on hold", "dumped"},
		"dumped":         {"replaced"}, "collected": nil, "replaced": nil, "given up": nil,
	})
	walk(t, OrderMoves, map[OrderState][]OrderState{
		"needed": {"asked", "called off"}, "asked": {"promised", "called off"}, "promised": {"slot held", "called off"},
		"slot held": {"killed", "called off"}, "killed": {"delivered"}, "delivered": {"settled"}, "settled": nil, "called off": nil,
	})
	walk(t, VoucherMoves, map[VoucherState][]VoucherState{
		"sold": {"sent", "used", "part used", "run out"}, "sent": {"used", "part used", "run out"},
		"part used": {"used", "sent", "run out"}, "used": {"sent", "part used"}, "run out": {"sent"},
	})
	walk(t, CreditMoves, map[CreditState][]CreditState{"open": {"used", "run out"}, "used": {"open"}, "run out": nil})
	walk(t, NoticeMoves, map[NoticeState][]NoticeState{
		"waiting to send": {"sent", "cancelled"}, "sent": {"came back"}, "came back": nil, "cancelled": nil,
	})
	walk(t, HoldMoves, map[HoldState][]HoldState{"open": {"released", "dumped"}, "released": nil, "dumped": nil})
}
