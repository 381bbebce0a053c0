package store_test

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"strings"
	"testing"
	"time"

	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
)

// logging opens the shop's records anew, with a log that can be read.
func logging(t *testing.T, h *storetest.House) (*store.Store, *bytes.Buffer) {
	t.Helper()
	out := &bytes.Buffer{}
	c := h.Config
	c.Log = slog.New(slog.NewTextHandler(out, nil))
	s, err := store.Open(h.Ctx, c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s, out
}

// TestSQLLog: a fault of the database is an error in the log, a query nobody waits for any
// more is not, and neither says what was asked for.
func TestSQLLog(t *testing.T) {
	eachBare(t, func(t *testing.T, h *storetest.House) {
		s, out := logging(t, h)
		// As long as the test waits, whichever database counts.
		long := "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM n WHERE i < 1000000000) SELECT count(*) FROM n WHERE 'hollyhock' <> ?"
		gone, cancel := context.WithCancel(h.Ctx)
		cancel()
		going, leave := context.WithCancel(h.Ctx)
		time.AfterFunc(50*time.Millisecond, leave)
		late, enough := context.WithTimeout(h.Ctx, 50*time.Millisecond)
		defer enough()
		for _, q := range []struct {
			name, sql, says, not string
			ctx                  context.Context
			is                   error
		}{
			{"gone before", "SELECT count(*) FROM settings WHERE name = ?", "SQL cut off", "level=ERROR", gone, context.Canceled},
			{"gone meanwhile", long, "SQL cut off", "level=ERROR", going, context.Canceled},
			{"too slow", long, "level=ERROR", "SQL cut off", late, context.DeadlineExceeded},
			{"wrong", "SELECT count(*) FROM nowhere WHERE name = ?", "level=ERROR", "SQL cut off", h.Ctx, nil},
			{"well", "SELECT count(*) FROM settings WHERE name = ?", "", "level=", h.Ctx, nil},
		} {
			out.Reset()
			_, err := store.Get[int](q.ctx, s, q.sql, "marigold")
			if q.is != nil && !errors.Is(err, q.is) || (err == nil) != (q.name == "well") {
				t.Errorf("%s: answers %v, want %v", q.name, err, q.is)
			}
			if err != nil {
				s.LogFault("a page", err)
			}
			log := out.String()
			if !strings.Contains(log, q.says) || strings.Contains(log, q.not) || strings.Contains(log, "marigold") {
				t.Errorf("%s: the log says %q, want %q and never %q", q.name, log, q.says, q.not)
			}
		}
	})
}
