package main

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/api/store/storetest"
	"flitchbook/cmd/flitchbook/story"
	"flitchbook/planner/unit"
)

// These measure the program beside a bare floor that does the least the job could be done
// with, on the same machine in the same run, turn about: what counts is the ratio, since
// the figures themselves differ from hour to hour. Each benchmark takes pairs of slices
// and prints the median of the pairwise ratios with the smallest and the largest. Run
//
//	go test ./cmd/flitchbook -run '^$' -bench . -benchtime 1x
//
// on a machine that does nothing else; TEST_POSTGRES adds PostgreSQL. Nothing is asserted
// about speed.

const (
	pairs = 7
	slice = time.Second
)

// Figures are what one slice came to.
type figures struct {
	rate float64       // a second
	p99  time.Duration // of one
}

// load has so many clients do one thing over and over for a slice.
func load(b *testing.B, clients int, one func(client, n int) error) figures {
	b.Helper()
	var all sync.WaitGroup
	took := make([][]time.Duration, clients)
	start := time.Now()
	for c := range clients {
		all.Go(func() {
			for n := 0; time.Since(start) < slice; n++ {
				t := time.Now()
				if err := one(c, n); err != nil {
					b.Error(err)
					return
				}
				took[c] = append(took[c], time.Since(t))
			}
		})
	}
	all.Wait()
	spent := time.Since(start)
	each := slices.Sorted(slices.Values(slices.Concat(took...)))
	if len(each) == 0 {
		b.Fatal("nothing was done in a slice")
	}
	return figures{float64(len(each)) / spent.Seconds(), each[(len(each)-1)*99/100]}
}

// against measures the program and its floor turn about and reports the ratios.
func against(b *testing.B, ours, floor func() figures) {
	b.Helper()
	ours() // warm
	floor()
	for b.Loop() {
		var rate, p99, mine, bare []float64
		for i := range pairs {
			var o, f figures
			if i%2 == 0 {
				o, f = ours(), floor()
			} else {
				f, o = floor(), ours()
			}
			mine, bare = append(mine, o.rate), append(bare, f.rate)
			rate = append(rate, o.rate/f.rate)
			p99 = append(p99, o.p99.Seconds()/f.p99.Seconds())
		}
		for _, l := range [][]float64{rate, p99, mine, bare} {
			slices.Sort(l)
		}
		b.ReportMetric(mine[pairs/2], "ours/s")
		b.ReportMetric(bare[pairs/2], "floor/s")
		b.ReportMetric(rate[pairs/2], "ratio")
		b.ReportMetric(rate[0], "ratio-min")
		b.ReportMetric(rate[pairs-1], "ratio-max")
		b.ReportMetric(p99[pairs/2], "p99-ratio")
		b.ReportMetric(p99[0], "p99-min")
		b.ReportMetric(p99[pairs-1], "p99-max")
	}
	b.ReportMetric(0, "ns/op") // a slice's length says nothing
}

// many is over how many classes the buyers spread: none becomes larger than a class is.
const many = 100

// roomy puts dinners on sale with more seats than any slice can sell.
func roomy(b *testing.B, st *store.Store, database string, n int) (codes []string) {
	b.Helper()
	st.Rules.TableSeats = 0 // no shop has so many chairs
	for i := 0; len(codes) < n; i++ {
		code := fmt.Sprintf("S%d", i+1)
		starts := unit.InstantOf(st.Now().Time().Add(time.Duration(40+i) * 24 * time.Hour))
		if _, err := st.AddClass(b.Context(), keeper, shop.NewClass{Code: code, Kind: "grazing", StartsAt: starts, Seats: 100, MinSeats: -1, DemoSlabs: -1}); err != nil {
			b.Fatal(err)
		}
		if err := st.Publish(b.Context(), keeper, code); err != nil {
			if e, ok := shop.AsError(err); ok && e.Code == "no_room" {
				continue // the shop is closed that day
			}
			b.Fatal(err)
		}
		codes = append(codes, code)
	}
	driver := "pgx"
	if file, ok := strings.CutPrefix(database, "sqlite:"); ok {
		driver, database = "sqlite3", "file:"+file+"?_busy_timeout=5000"
	}
	db, err := sql.Open(driver, database)
	if err != nil {
		b.Fatal(err)
	}
	_, err = db.ExecContext(b.Context(), "UPDATE classes SET seats = 10000000")
	if err := errors.Join(err, db.Close()); err != nil {
		b.Fatal(err)
	}
	return codes
}

// serving is the program answering on a port, with the limit on posts lifted.
func serving(b *testing.B, database string) *house {
	c := defaults()
	c.PostsMinute = 1_000_000_000
	c.DueEvery = 5 * time.Second
	return openHouse(b, database, c, nil)
}

// overHTTP books one seat by the JSON API and reads the whole answer.
func overHTTP(b *testing.B, h *house, classes []string, clients int) func(client, n int) error {
	tr := &http.Transport{MaxIdleConnsPerHost: clients, MaxConnsPerHost: clients}
	b.Cleanup(tr.CloseIdleConnections)
	client := &http.Client{Transport: tr, Timeout: 30 * time.Second}
	body := bookBody("buyer", 1)
	return func(c, n int) error {
		res, err := client.Post(h.URL+"/api/v1/classes/"+classes[(c+n)%len(classes)]+"/bookings", "application/json", strings.NewReader(body))
		if err != nil {
			return err
		}
		said, err := io.ReadAll(res.Body)
		if err := errors.Join(err, res.Body.Close()); err != nil {
			return err
		}
		if res.StatusCode != http.StatusOK {
			return fmt.Errorf("%d %s", res.StatusCode, said)
		}
		return nil
	}
}

// bareSQLite is the least a booking can be: one transaction that takes a seat by a
// conditional update and writes one row, on one connection, kept by FULL as the
// program's is.
func bareSQLite(b *testing.B) func(client, n int) error {
	db, err := sql.Open("sqlite3", "file:"+filepath.Join(b.TempDir(), "floor.db")+"?_journal_mode=WAL&_synchronous=FULL&_txlock=immediate&_busy_timeout=5000")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { db.Close() })
	db.SetMaxOpenConns(1)
	if _, err := db.Exec(floorTables); err != nil {
		b.Fatal(err)
	}
	return func(client, n int) error {
		tx, err := db.Begin()
		if err != nil {
			return err
		}
		defer tx.Rollback()
		res, err := tx.Exec("UPDATE floor_classes SET taken = taken + 1 WHERE id = 1 AND taken < seats")
		if err != nil {
			return err
		}
		if hit, err := res.RowsAffected(); err != nil || hit != 1 {
			return fmt.Errorf("%d seats taken, %v", hit, err)
		}
		if _, err := tx.Exec("INSERT INTO floor_bookings (class_id, name, at) VALUES (1, ?, ?)", "buyer", n); err != nil {
			return err
		}
		return tx.Commit()
	}
}

const floorTables = `CREATE TABLE floor_classes (id BIGINT PRIMARY KEY, seats BIGINT NOT NULL, taken BIGINT NOT NULL);
	CREATE TABLE floor_bookings (class_id BIGINT NOT NULL, name TEXT NOT NULL, at BIGINT NOT NULL);
	INSERT INTO floor_classes VALUES (1, 1000000000, 0);`

// BenchmarkBookings is bookings a second over the JSON API, each answered only after it
// is safe on disk, against the bare loop.
func BenchmarkBookings(b *testing.B) {
	for _, clients := range []int{64, 1} {
		b.Run(fmt.Sprintf("sqlite-%d", clients), func(b *testing.B) {
			database := "sqlite:" + filepath.Join(b.TempDir(), "shop.db")
			h := serving(b, database)
			one, floor := overHTTP(b, h, roomy(b, h.Store, database, many), clients), bareSQLite(b)
			against(b, func() figures { return load(b, clients, one) }, func() figures { return load(b, clients, floor) })
		})
	}
	b.Run("postgres-64", func(b *testing.B) {
		database := storetest.PostgresURL(b)
		h := serving(b, database)
		one, floor := overHTTP(b, h, roomy(b, h.Store, database, 1), 64), barePostgres(b, database)
		against(b, func() figures { return load(b, 64, one) }, func() figures { return load(b, 64, floor) })
	})
}

// barePostgres is a seat taken the way it is usually taught: lock the class's row, look,
// write, commit; a pool of eight as the program has.
func barePostgres(b *testing.B, database string) func(client, n int) error {
	c, err := pgxpool.ParseConfig(database)
	if err != nil {
		b.Fatal(err)
	}
	c.MaxConns = 8
	pool, err := pgxpool.NewWithConfig(b.Context(), c)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(pool.Close)
	ctx := context.WithoutCancel(b.Context())
	if _, err := pool.Exec(ctx, floorTables); err != nil {
		b.Fatal(err)
	}
	return func(_, n int) error {
		return pgx.BeginFunc(ctx, pool, func(tx pgx.Tx) error {
			var left int64
			if err := tx.QueryRow(ctx, "SELECT seats - taken FROM floor_classes WHERE id = 1 FOR UPDATE").Scan(&left); err != nil || left < 1 {
				return fmt.Errorf("%d left, %v", left, err)
			}
			if _, err := tx.Exec(ctx, "UPDATE floor_classes SET taken = taken + 1 WHERE id = 1"); err != nil {
				return err
			}
			_, err := tx.Exec(ctx, "INSERT INTO floor_bookings (class_id, name, at) VALUES (1, $1, $2)", "buyer", n)
			return err
		})
	}
}

// BenchmarkSeasonPage is the season of sixty classes as one visitor after the other asks
// for it, against reading it and writing a plain page of the same sixty lines each time.
func BenchmarkSeasonPage(b *testing.B) {
	database := "sqlite:" + filepath.Join(b.TempDir(), "shop.db")
	h := serving(b, database)
	roomy(b, h.Store, database, 60)
	web := h.srv.http.Handler
	plain := template.Must(template.New("").Parse(`<!doctype html><title>Season</title><ul>{{range .Classes}}
		<li><a href="/classes/{{.Code}}">{{.Title}}</a> {{.StartsAt}} {{.Left}} of {{.Seats}} {{.Price}}{{end}}</ul>`))
	var size atomic.Int64
	ours := func(int, int) error {
		rec := httptest.NewRecorder()
		web.ServeHTTP(rec, httptest.NewRequest(http.MethodGet, "/", nil))
		size.Store(int64(rec.Body.Len()))
		if rec.Code != http.StatusOK {
			return fmt.Errorf("%d", rec.Code)
		}
		return nil
	}
	floor := func(int, int) error {
		p, err := h.SeasonPage(b.Context())
		if err != nil {
			return err
		}
		var out bytes.Buffer
		return plain.Execute(&out, p)
	}
	against(b, func() figures { return load(b, 1, ours) }, func() figures { return load(b, 1, floor) })
	b.ReportMetric(float64(size.Load())/1024, "KB")
}

// BenchmarkTrace is the recall of black pepper P-117 on the invented shop, everything the
// page shows, beside the least that could be asked of the database: the nine slabs of the
// lot by one query.
func BenchmarkTrace(b *testing.B) {
	ctx := context.Background()
	file := filepath.Join(b.TempDir(), "shop.db")
	h := openHouse(b, "sqlite:"+file, defaults(), nil)
	player, err := story.Begin(&story.Player{Store: h.Store, Clock: h.Clock, Strict: true, Send: func(context.Context, shop.Notice, shop.Facts) error { return nil }})
	if err != nil {
		b.Fatal(err)
	}
	h.Clock.Set(player.First())
	if err := player.To(ctx, unit.DayOf(2026, time.November, 5).At(11, 0, h.Loc)); err != nil {
		b.Fatal(err)
	}
	hits, err := h.TraceSearch(ctx, "P-117")
	if err != nil || len(hits) != 1 {
		b.Fatal(hits, err)
	}
	ours := func() figures {
		return load(b, 1, func(_, _ int) error {
			tr, err := h.Trace(ctx, hits[0].Handle)
			if err == nil && len(tr.Slabs) != 9 {
				err = fmt.Errorf("%d slabs", len(tr.Slabs))
			}
			return err
		})
	}
	db, err := sql.Open("sqlite3", "file:"+file+"?mode=ro")
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	floor := func() figures {
		return load(b, 1, func(_, _ int) error {
			rows, err := db.Query("SELECT DISTINCT slabs.tag, slabs.state FROM weigh_out_lots JOIN weigh_outs ON weigh_outs.id = weigh_out_lots.weigh_out_id JOIN slabs ON slabs.id = weigh_outs.slab_id WHERE weigh_out_lots.lot_id = ?", hits[0].Key)
			if err != nil {
				return err
			}
			defer rows.Close()
			n := 0
			for rows.Next() {
				var tag, state string
				if err := rows.Scan(&tag, &state); err != nil {
					return err
				}
				n++
			}
			if n != 9 {
				return fmt.Errorf("%d slabs", n)
			}
			return rows.Err()
		})
	}
	against(b, ours, floor)
}
