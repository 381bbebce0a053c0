package store_test

import (
	"context"
	"errors"
	"strconv"
	"strings"
	"testing"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// sent runs Deliver and returns what went out.
func sent(t *testing.T, h *storetest.House) (out []shop.Facts, kinds []string) {
	t.Helper()
	_, err := h.Deliver(h.Ctx, func(_ context.Context, n shop.Notice, f shop.Facts) error {
		out, kinds = append(out, f), append(kinds, n.Kind)
		return nil
	})
	do(t, err)
	return out, kinds
}

func TestMorningList(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		do(t, h.RunDue(h.Ctx))
		if at, err := h.NextDue(h.Ctx); at != 0 || err != nil {
			t.Fatalf("an empty shop waits for %v, %v", at, err)
		}
		layTable(t, h)
		do(t, h.Rows(h.Ctx, func(db *gorm.DB) error {
			for _, sql := range []string{
				"UPDATE classes SET decide_at = " + num(h.At("2026-11-04 17:00")) + " WHERE code = 'B5'",
				"UPDATE slabs SET state = 'on the shelf', shelf_at = " + num(h.At("2026-10-21 15:00")) + " WHERE id = 50",
				"UPDATE slabs SET state = 'on the shelf', shelf_at = " + num(h.At("2026-10-22 15:00")) + " WHERE id = 52", // ten days on Nov 1, not over
			} {
				if err := db.Exec(sql).Error; err != nil {
					return err
				}
			}
			return db.Create(&shop.Hold{ID: 1, RoomID: 1, State: shop.HoldOpen, Reason: "above 41 °F for more than two hours", OpenedAt: h.At("2026-10-31 04:15")}).Error
		}))
		at, err := h.NextDue(h.Ctx)
		do(t, err)
		if at != h.At("2026-10-31 07:00") {
			t.Errorf("not looked at today yet, due %s", at.Show(h.Loc))
		}
		do(t, h.RunDue(h.Ctx)) // the shop's computer was off at seven
		_, kinds := sent(t, h)
		if len(kinds) != 1 || kinds[0] != shop.NoticeOwnerMorning {
			t.Fatalf("sent %v", kinds)
		}
		if at, err = h.NextDue(h.Ctx); err != nil || at != h.At("2026-11-01 07:00") {
			t.Errorf("next list due %s, %v", at.Show(h.Loc), err)
		}
		do(t, h.RunDue(h.Ctx))
		if _, kinds := sent(t, h); len(kinds) != 0 {
			t.Errorf("a second list on one day: %v", kinds)
		}
		// Across the night in which the clocks go back.
		h.Go("2026-11-01 06:59")
		do(t, h.RunDue(h.Ctx))
		if _, kinds := sent(t, h); len(kinds) != 0 {
			t.Errorf("before seven: %v", kinds)
		}
		h.Go("2026-11-01 07:00")
		do(t, h.RunDue(h.Ctx))
		facts, kinds := sent(t, h)
		if len(kinds) != 1 {
			t.Fatalf("at seven, in the quiet hours: %v", kinds)
		}
		text := strings.Join(facts[0].Lines, "\n")
		for _, want := range []string{
			"ON HOLD since Sat Oct 31, 04:15", "above 41 °F", // holds open
			"B5, Sat Nov 7, 14:00: 4 of 10 seats taken, fewest is 6; decide by Wed Nov 4, 17:00",
			"D4, Thu Nov 5, 18:00: 3 of 10 seats taken, fewest is 6",
			"B4-01, Petra M.: on the shelf since Wed Oct 21, 11 days",
		} {
			if !strings.Contains(text, want) {
				t.Errorf("the list does not say %q:\n%s", want, text)
			}
		}
		for _, bad := range []string{"B6", "X9", "B4-03", "D2"} {
			if strings.Contains(text, bad) {
				t.Errorf("the list should not speak of %s:\n%s", bad, text)
			}
		}
		if strings.Count(text, "B5,") != 1 {
			t.Errorf("one class, one line:\n%s", text)
		}
	})
}

func TestMorningListOfAQuietShop(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		layTable(t, h)
		h.Go("2026-11-01 07:00")
		do(t, h.Rows(h.Ctx, func(db *gorm.DB) error {
			return db.Exec("UPDATE classes SET seats_taken = 8 WHERE code IN ('B5', 'D4')").Error
		}))
		do(t, h.RunDue(h.Ctx))
		if _, kinds := sent(t, h); len(kinds) != 0 {
			t.Errorf("nothing to say, but %v", kinds)
		}
	})
}

func num(i unit.Instant) string { return strconv.FormatInt(int64(i), 10) }

// A message whose sending is not recorded, because the program died between the two,
// goes again, under the same key and so with the same Message-ID.
func TestCrashBetweenSendAndRecord(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		do(t, h.Tell(h.Ctx, shop.Notice{Key: "booked/28", Kind: shop.NoticeBooked, ToName: "Nerys D.", ToAddr: "nerys@mail.example.test", Urgent: true}, shop.Facts{}))
		var keys []string
		func() {
			defer func() { _ = recover() }()
			_, _ = h.Deliver(h.Ctx, func(_ context.Context, n shop.Notice, _ shop.Facts) error {
				keys = append(keys, n.Key)
				panic("power cut after the mail server said yes")
			})
		}()
		send := func(_ context.Context, n shop.Notice, _ shop.Facts) error { keys = append(keys, n.Key); return nil }
		if n, err := h.Deliver(h.Ctx, send); n != 0 || err != nil {
			t.Fatalf("sent %d while another may still be at it, %v", n, err)
		}
		h.Clock.Add(3 * time.Minute)
		if n, err := h.Deliver(h.Ctx, send); n != 1 || err != nil {
			t.Fatalf("sent %d, %v", n, err)
		}
		if n, err := h.Deliver(h.Ctx, send); n != 0 || err != nil || len(keys) != 2 || keys[0] != keys[1] {
			t.Errorf("keys %v, %d, %v", keys, n, err)
		}
	})
}

// A message under way when the program is told to stop is recorded as sent.
func TestStoppingWhileSending(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		for _, key := range []string{"a/1", "b/1"} {
			do(t, h.Tell(h.Ctx, shop.Notice{Key: key, Kind: shop.NoticeReady, ToAddr: "n@mail.example.test", Urgent: true}, shop.Facts{}))
		}
		ctx, stop := context.WithCancel(h.Ctx)
		var keys []string
		n, err := h.Deliver(ctx, func(_ context.Context, n shop.Notice, _ shop.Facts) error {
			keys = append(keys, n.Key)
			stop()
			return nil
		})
		if n != 1 || !errors.Is(err, context.Canceled) {
			t.Fatalf("Deliver = %d, %v", n, err)
		}
		h.Clock.Add(3 * time.Minute)
		if _, kinds := sent(t, h); len(kinds) != 1 {
			t.Errorf("after the stop %d went, want the other one alone; before it %v", len(kinds), keys)
		}
	})
}

func TestNoticeBoard(t *testing.T) {
	storetest.Each(t, func(t *testing.T, h *storetest.House) {
		layTable(t, h)
		h.Go("2026-11-02 10:00")
		tell := func(key, subject string, id int64, due unit.Instant) {
			t.Helper()
			do(t, h.Tell(h.Ctx, shop.Notice{Key: key, Kind: shop.NoticeReady, ToName: "Petra M.", ToAddr: "petra@mail.example.test", Subject: subject, SubjectID: id, DueAt: due}, shop.Facts{}))
		}
		tell("good", "booking", 20, 0)
		tell("bad", "guest", 30, 0)
		tell("later", "booking", 21, h.At("2026-11-09 10:00"))
		refused := errors.New("550 nobody of that name here")
		_, err := h.Deliver(h.Ctx, func(_ context.Context, n shop.Notice, _ shop.Facts) error {
			if n.Key == "bad" {
				return refused
			}
			return nil
		})
		do(t, err)
		b, err := h.Notices(h.Ctx)
		do(t, err)
		if len(b.Failing) != 1 || b.Failing[0].LastError != refused.Error() || b.Failing[0].Attempts != 1 || b.Failing[0].About != "booking K19" || b.Failing[0].DueAt != h.Now().Add(time.Minute) {
			t.Errorf("failing: %+v", b.Failing)
		}
		if len(b.Waiting) != 1 || b.Waiting[0].About != "booking K47" || b.More != 0 {
			t.Errorf("waiting: %+v, and %d more", b.Waiting, b.More)
		}
		if len(b.Sent) != 1 || b.Sent[0].About != "booking K19" || b.Sent[0].SentAt != h.Now() || len(b.CameBack) != 0 {
			t.Errorf("sent: %+v, back: %+v", b.Sent, b.CameBack)
		}
		do(t, h.TryNow(h.Ctx, storetest.Odile, b.Failing[0].ID))
		do(t, h.MarkCameBack(h.Ctx, storetest.Odile, b.Sent[0].ID))
		for _, err := range []error{
			h.TryNow(h.Ctx, storetest.Odile, b.Sent[0].ID), h.MarkCameBack(h.Ctx, storetest.Odile, b.Waiting[0].ID), h.MarkCameBack(h.Ctx, storetest.Odile, b.Sent[0].ID),
		} {
			if e, ok := shop.AsError(err); !ok || e.Kind != shop.Conflict {
				t.Errorf("went through or broke: %v", err)
			}
		}
		if err := h.TryNow(h.Ctx, storetest.Odile, 9999); err == nil {
			t.Error("a message that is not there was tried")
		}
		if _, kinds := sent(t, h); len(kinds) != 1 {
			t.Errorf("tried at once: %v", kinds)
		}
		b, err = h.Notices(h.Ctx)
		do(t, err)
		if len(b.Failing) != 0 || len(b.CameBack) != 1 || len(b.Sent) != 1 {
			t.Errorf("%+v", b)
		}
		lines, err := h.MorningList(h.Ctx)
		do(t, err)
		if text := strings.Join(lines, "\n"); !strings.Contains(text, "1 message came back") {
			t.Errorf("the owner's list does not say so:\n%s", text)
		}
	})
}
