package main

import (
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/planner/unit"
)

// each runs a test on SQLite and on PostgreSQL; fresh is the address of a new database.
func each(t *testing.T, test func(t *testing.T, fresh func() string)) {
	t.Run("sqlite", func(t *testing.T) {
		test(t, func() string { return "sqlite:" + filepath.Join(t.TempDir(), "shop.db") })
	})
	t.Run("postgres", func(t *testing.T) {
		first := storetest.PostgresURL(t) // skips at once where there is no server
		test(t, func() string {
			url := first
			if first = ""; url == "" {
				url = storetest.PostgresURL(t)
			}
			return url
		})
	})
}

// sell puts clinics on sale, each with so many seats.
func sell(t *testing.T, st *store.Store, seats ...int) []string {
	t.Helper()
	var codes []string
	for i, n := range seats {
		code := fmt.Sprintf("S%d", i+1)
		starts := unit.InstantOf(st.Now().Time().Add(time.Duration(40+7*i) * 24 * time.Hour))
		if _, err := st.AddClass(t.Context(), keeper, shop.NewClass{Code: code, Kind: "pig", StartsAt: starts, Seats: n, MinSeats: -1, DemoSlabs: -1}); err != nil {
			t.Fatal(err)
		}
		if err := st.Publish(t.Context(), keeper, code); err != nil {
			t.Fatal(err)
		}
		codes = append(codes, code)
	}
	return codes
}

func bookBody(who string, people int) string {
	p := strings.TrimSuffix(strings.Repeat(`{},`, people), ",")
	return fmt.Sprintf(`{"name":%q,"email":"%s@post.example.test","people":[%s]}`, who, who, p)
}

// TestSixtyBuyersForTwelveSeats: the last seats of a class go to so many and no more,
// whoever presses first, and everybody else is told in plain words.
func TestSixtyBuyersForTwelveSeats(t *testing.T) {
	each(t, func(t *testing.T, fresh func() string) {
		for _, tc := range []struct{ seats, buyers int }{{12, 60}, {2, 200}} {
			c := defaults()
			c.PostsMinute = 1_000_000
			h := openHouse(t, fresh(), c, nil)
			code := sell(t, h.Store, tc.seats)[0]
			tr := &http.Transport{MaxIdleConnsPerHost: tc.buyers}
			defer tr.CloseIdleConnections()
			client := &http.Client{Transport: tr, Timeout: 30 * time.Second}
			var got [600]atomic.Int64
			var all sync.WaitGroup
			for i := range tc.buyers {
				all.Go(func() {
					res, err := client.Post(h.URL+"/api/v1/classes/"+code+"/bookings", "application/json", strings.NewReader(bookBody(fmt.Sprintf("buyer%d", i), 1)))
					if err != nil {
						t.Error(err)
						return
					}
					defer res.Body.Close()
					if _, err := io.Copy(io.Discard, res.Body); err != nil {
						t.Error(err)
					}
					got[res.StatusCode].Add(1)
				})
			}
			all.Wait()
			sold, refused := got[http.StatusOK].Load(), got[http.StatusConflict].Load()
			if int(sold) != tc.seats || int(refused) != tc.buyers-tc.seats {
				t.Errorf("%d seats, %d buyers: %d sold, %d told no", tc.seats, tc.buyers, sold, refused)
			}
			sound(t, h.Store)
		}
	})
}

func sound(t *testing.T, st *store.Store) {
	t.Helper()
	found, err := st.Check(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range found {
		if len(f.Broken) > 0 {
			t.Errorf("%s: %v", f.Rule, f.Broken)
		}
	}
}
