package storetest

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/jackc/pgx/v5"
	_ "github.com/jackc/pgx/v5/stdlib" // the driver goose uses

	"flitchbook/migrations"
)

var (
	made   atomic.Int64 // databases and schemas of this process
	shapes sync.Map     // server to the name of its shaped database, func() (string, error)
)

// server is the address of the server to test on. Without one the test says so and is
// skipped; in CI it fails.
func server(t testing.TB) string {
	t.Helper()
	s := os.Getenv("TEST_POSTGRES")
	if s == "" {
		if os.Getenv("CI") != "" {
			t.Fatal("TEST_POSTGRES is not set: in CI the checks on PostgreSQL may not be left out")
		}
		t.Skip("NOT CHECKED on PostgreSQL: set TEST_POSTGRES to a server's address to check there too")
	}
	return s
}

// PostgresURL makes a fresh database on the server TEST_POSTGRES names, with the tables of
// an empty shop, and returns its address. It is a copy: making the tables anew takes longer
// than most tests. Where the account may not make databases, it is an empty schema.
func PostgresURL(t testing.TB) string {
	t.Helper()
	at := server(t)
	known, _ := shapes.LoadOrStore(at, sync.OnceValues(func() (string, error) { return shaped(context.Background(), at) }))
	shape, err := known.(func() (string, error))()
	if errors.Is(err, errMayNot) {
		return PostgresSchema(t)
	}
	if err != nil {
		t.Fatal(err)
	}
	name := fmt.Sprintf("flitchbook_%d_%d", os.Getpid(), made.Add(1))
	c := connect(t, at)
	// Since version 15 a copy goes through the log unless told otherwise: six times as long.
	var how string
	if err := c.QueryRow(context.Background(), "SELECT CASE WHEN current_setting('server_version_num')::int >= 150000 THEN ' STRATEGY FILE_COPY' ELSE '' END").Scan(&how); err != nil {
		t.Fatal(err)
	}
	must(t, c, "CREATE DATABASE "+name+" TEMPLATE "+shape+how)
	t.Cleanup(func() {
		if _, err := c.Exec(context.Background(), "DROP DATABASE "+name+" WITH (FORCE)"); err != nil {
			t.Error(err)
		}
		c.Close(context.Background())
	})
	return in(t, at, name)
}

// PostgresSchema makes an empty schema on the server and returns an address that uses it.
func PostgresSchema(t testing.TB) string {
	t.Helper()
	at := server(t)
	name := fmt.Sprintf("t%d_%d", os.Getpid(), made.Add(1))
	c := connect(t, at)
	must(t, c, "CREATE SCHEMA "+name)
	t.Cleanup(func() {
		if _, err := c.Exec(context.Background(), "DROP SCHEMA "+name+" CASCADE"); err != nil {
			t.Error(err)
		}
		c.Close(context.Background())
	})
	u, err := url.Parse(at)
	if err != nil {
		t.Fatal(err)
	}
	q := u.Query()
	q.Set("search_path", name)
	u.RawQuery = q.Encode()
	return u.String()
}

func connect(t testing.TB, at string) *pgx.Conn {
	t.Helper()
	c, err := pgx.Connect(context.Background(), at)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func must(t testing.TB, c *pgx.Conn, statement string) {
	t.Helper()
	if _, err := c.Exec(context.Background(), statement); err != nil {
		t.Fatal(err)
	}
}

// in is the address of a database on the same server.
func in(t testing.TB, at, name string) string {
	t.Helper()
	u, err := url.Parse(at)
	if err != nil {
		t.Fatal(err)
	}
	u.Path = "/" + name
	return u.String()
}

var errMayNot = errors.New("the account may not make databases")

// shaped is the name of a database with the tables of an empty shop and nothing else, made
// once for each shape there is and kept on the server for the next run. Several test
// programs may ask at once: the first makes it, the others wait.
func shaped(ctx context.Context, at string) (name string, err error) {
	c, err := pgx.Connect(ctx, at)
	if err != nil {
		return "", err
	}
	defer c.Close(ctx)
	var may bool
	if err := c.QueryRow(ctx, "SELECT rolcreatedb OR rolsuper FROM pg_roles WHERE rolname = current_user").Scan(&may); err != nil {
		return "", err
	}
	if !may {
		return "", errMayNot
	}
	sum, err := migrations.Sum("postgres")
	if err != nil {
		return "", err
	}
	name = "flitchbook_shape_" + sum[:12]
	if _, err := c.Exec(ctx, "SELECT pg_advisory_lock(hashtext('flitchbook shape'))"); err != nil {
		return "", err
	}
	var whole []bool
	rows, err := c.Query(ctx, "SELECT datistemplate FROM pg_database WHERE datname = $1", name)
	if err != nil {
		return "", err
	}
	if whole, err = pgx.CollectRows(rows, pgx.RowTo[bool]); err != nil {
		return "", err
	}
	if len(whole) == 1 && whole[0] {
		return name, nil
	}
	if len(whole) == 1 { // whoever made it did not finish
		if _, err := c.Exec(ctx, "DROP DATABASE "+name+" WITH (FORCE)"); err != nil {
			return "", err
		}
	}
	if _, err := c.Exec(ctx, "CREATE DATABASE "+name); err != nil {
		return "", err
	}
	u, err := url.Parse(at)
	if err != nil {
		return "", err
	}
	u.Path = "/" + name
	db, err := sql.Open("pgx", u.String())
	if err != nil {
		return "", err
	}
	if err := errors.Join(migrations.Up(ctx, db, "postgres"), db.Close()); err != nil {
		return "", err
	}
	_, err = c.Exec(ctx, "ALTER DATABASE "+name+" IS_TEMPLATE true")
	return name, err
}
