package scenario

import (
	"slices"
	"strings"
	"testing"
)

// The invented story must be readable and in order, with the bookings the shop's check
// totals count.
func TestStoryReads(t *testing.T) {
	all := Story()
	if !slices.IsSortedFunc(all, func(a, b Event) int { return strings.Compare(a.At, b.At) }) {
		t.Error("the story is not in order of time")
	}
	numbers := map[int]bool{}
	for _, e := range all {
		if e.Do == "book" || e.Do == "wait" {
			if numbers[e.Number] {
				t.Errorf("booking K%02d happens twice", e.Number)
			}
			numbers[e.Number] = true
		}
	}
	if len(numbers) != 54 {
		t.Errorf("%d bookings, want 54", len(numbers))
	}
	if Shop().Name == "" {
		t.Error("the shop has no name")
	}
}
