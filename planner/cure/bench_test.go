package cure

import (
	"testing"

	"flitchbook/planner/unit"
)

// BenchmarkNewTicket makes the house's ticket for a skin-on slab of two lots.
func BenchmarkNewTicket(b *testing.B) {
	s := Slab{Tag: "B4-03", Green: unit.Weight(462) * (unit.Pound / 100), SkinOn: true}
	lots := []LotShare{{Lot{ID: "C-1", Nitrite: 62_500}, 600_000}, {Lot{ID: "C-2", Nitrite: 58_824}, 400_000}}
	r := HouseRecipe()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := NewTicket(s, r, Jar{"PB", 10_000}, lots, tenth); err != nil {
			b.Fatal(err)
		}
	}
}
