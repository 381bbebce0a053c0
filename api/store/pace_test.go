package store_test

import (
	"slices"
	"testing"

	"flitchbook/api/store/storetest"
)

// TestPaceIsLearnedFromTheNewest: what sold years ago does not count, nor is it read.
func TestPaceIsLearnedFromTheNewest(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		class(t, h, "B9", "bacon", "2026-10-10 14:00")
		starts := h.At("2026-08-01 14:00")
		if err := h.Do(h.Ctx, `WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 70)
			INSERT INTO classes (code, kind_id, starts_at, ends_at, day, seats, seats_taken, state)
			SELECT 'Y' || (10 + i), (SELECT kind_id FROM classes WHERE code = 'B9'), ? - (71 - i) * 86400, ? - (71 - i) * 86400 + 60, '2026-01-01', 12, 0, 'taught' FROM n`, starts, starts); err != nil {
			t.Fatal(err)
		}
		got, err := h.PaceFrom(h.Ctx, "B9")
		if err != nil || len(got) != 60 || got[0] != "Y21" || got[59] != "Y80" || !slices.IsSorted(got) {
			t.Errorf("learned from %v, %v", got, err)
		}
	})
}
