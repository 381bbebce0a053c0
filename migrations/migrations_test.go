package migrations_test

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	_ "github.com/jackc/pgx/v5/stdlib"
	_ "github.com/mattn/go-sqlite3"

	"flitchbook/api/store/storetest"
	"flitchbook/migrations"
)

func open(t *testing.T, driver, url string) *sql.DB {
	t.Helper()
	db, err := sql.Open(driver, url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func sqlite(t *testing.T) *sql.DB {
	return open(t, "sqlite3", "file:"+filepath.Join(t.TempDir(), "shop.db")+"?_foreign_keys=on&_busy_timeout=5000")
}

func postgres(t *testing.T) *sql.DB { return open(t, "pgx", storetest.PostgresSchema(t)) }

// each runs a test on an empty database of each dialect.
func each(t *testing.T, test func(t *testing.T, db *sql.DB, dialect string)) {
	t.Run("sqlite", func(t *testing.T) { test(t, sqlite(t), "sqlite") })
	t.Run("postgres", func(t *testing.T) { test(t, postgres(t), "postgres") })
}

func up(t *testing.T, db *sql.DB, dialect string) {
	t.Helper()
	if err := migrations.Up(t.Context(), db, dialect); err != nil {
		t.Fatal(err)
	}
}

// TestSameFiles keeps the two folders in step: a change made for one database alone
// would be found only by the shop that uses the other.
func TestSameFiles(t *testing.T) {
	var names [2][]string
	for i, folder := range []string{"sqlite", "postgres"} {
		files, err := os.ReadDir(folder)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			names[i] = append(names[i], f.Name())
		}
	}
	if len(names[0]) == 0 {
		t.Fatal("no migrations found")
	}
	if d := cmp.Diff(names[0], names[1]); d != "" {
		t.Errorf("sqlite and postgres hold other files:\n%s", d)
	}
	seen := map[string]string{}
	for _, n := range names[0] {
		number, _, _ := strings.Cut(n, "_")
		if other := seen[number]; other != "" {
			t.Errorf("%s and %s have one number", other, n)
		}
		seen[number] = n
	}
}

func TestUpDownUp(t *testing.T) {
	each(t, func(t *testing.T, db *sql.DB, dialect string) {
		up(t, db, dialect)
		first := shapeOf(t, db, dialect)
		if len(first) < 50 {
			t.Fatalf("only %d tables", len(first))
		}
		newest, err := migrations.Version(t.Context(), db, dialect)
		if err != nil || newest == 0 {
			t.Fatal(newest, err)
		}
		up(t, db, dialect) // a second start changes nothing
		if d := cmp.Diff(first, shapeOf(t, db, dialect)); d != "" {
			t.Errorf("a second start changed the shape:\n%s", d)
		}
		for v := newest; v > 0; {
			if err := migrations.Down(t.Context(), db, dialect); err != nil {
				t.Fatal(err)
			}
			if v, err = migrations.Version(t.Context(), db, dialect); err != nil {
				t.Fatal(err)
			}
		}
		if left := shapeOf(t, db, dialect); len(left) > 0 {
			t.Errorf("all taken back, and still there: %v", left)
		}
		up(t, db, dialect)
		if d := cmp.Diff(first, shapeOf(t, db, dialect)); d != "" {
			t.Errorf("up, down, up gives another shape:\n%s", d)
		}
	})
}

// TestSameShape holds the two databases against each other as they describe themselves.
func TestSameShape(t *testing.T) {
	lite, big := sqlite(t), postgres(t)
	up(t, lite, "sqlite")
	up(t, big, "postgres")
	if d := cmp.Diff(shapeOf(t, lite, "sqlite"), shapeOf(t, big, "postgres")); d != "" {
		t.Errorf("SQLite (-) and PostgreSQL (+) differ:\n%s", d)
	}
}

// TestStrict: only a STRICT table refuses a text where a number belongs
// (sqlite.org/stricttables.html), as PostgreSQL does.
func TestStrict(t *testing.T) {
	db := sqlite(t)
	up(t, db, "sqlite")
	loose := column[string](t, db, `SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table'
		AND name NOT LIKE 'sqlite_%' AND name <> 'goose_db_version' AND strict = 0`)
	if len(loose) > 0 {
		t.Errorf("not STRICT: %v", loose)
	}
	if _, err := db.Exec("INSERT INTO farms (code, haul_cents) VALUES ('X', 'much')"); err == nil {
		t.Error("words were taken for cents")
	}
}

func TestNewerDatabaseIsRefused(t *testing.T) {
	each(t, func(t *testing.T, db *sql.DB, dialect string) {
		up(t, db, dialect)
		if _, err := db.Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (99999, TRUE)"); err != nil {
			t.Fatal(err)
		}
		err := migrations.Up(t.Context(), db, dialect)
		if err == nil || !strings.Contains(err.Error(), "version 99999") || !strings.Contains(err.Error(), "newer program") {
			t.Errorf("a database of a newer program: %v", err)
		}
	})
	if err := migrations.Up(t.Context(), sqlite(t), "cards"); err == nil {
		t.Error("an unknown dialect was taken")
	}
}

// TestStartedTogether: several instances start at once on one new database, each with
// connections of its own.
func TestStartedTogether(t *testing.T) {
	url := storetest.PostgresSchema(t)
	var all sync.WaitGroup
	start := make(chan struct{})
	for range 6 {
		db := open(t, "pgx", url)
		if err := db.Ping(); err != nil {
			t.Fatal(err)
		}
		all.Go(func() {
			<-start
			if err := migrations.Up(context.WithoutCancel(t.Context()), db, "postgres"); err != nil {
				t.Error(err)
			}
		})
	}
	close(start)
	all.Wait()
	db := open(t, "pgx", url)
	if n := column[int](t, db, "SELECT count(*) FROM goose_db_version WHERE version_id = 1"); n[0] != 1 {
		t.Errorf("the first change was made %d times", n[0])
	}
}
