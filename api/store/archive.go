package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
)

// An archive is the shop's records in open files: a zip with one file a table, one JSON
// object a line, and a list of the files with their counts and SHA-256 sums. It is the
// same whichever database it came from and can be read back into either.
//
// What it holds: everything but the sessions of people signed in. Whole numbers are
// numbers (yes and no 1 and 0), words are strings, what is not known is null. Money is
// cents, weight nanograms, instants seconds since 1970 UTC, days 2026-11-07.
const (
	archiveFormat = 1
	archiveList   = "list.json"
	archiveWords  = "read me.txt"
)

// archiveIndex is the list of an archive's files.
type archiveIndex struct {
	Format  int            `json:"format"`
	Shape   int64          `json:"shape"` // version of the database's shape
	Shop    string         `json:"shop"`
	TakenAt string         `json:"taken_at"`
	Tables  []archiveTable `json:"tables"`
}

type archiveTable struct {
	Name    string   `json:"name"`
	File    string   `json:"file"`
	Columns []string `json:"columns"`
	Rows    int      `json:"rows"`
	SHA256  string   `json:"sha256"`
}

// notArchived are the tables an archive leaves out: who is signed in, and the shape's own
// book-keeping.
var notArchived = []string{"sessions", "goose_db_version"}

// A tableShape is what the database's catalogue says of a table.
type tableShape struct {
	Name    string
	Columns []tableColumn
	Key     []string // its primary key
	Points  []string // tables it refers to, itself left out
}

type tableColumn struct{ Name, Kind string }

func (t tableShape) names() []string {
	out := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		out[i] = c.Name
	}
	return out
}

// order sorts rows the same on every database.
func (t tableShape) order(dialect string) string {
	var out []string
	for _, k := range t.Key {
		i := slices.IndexFunc(t.Columns, func(c tableColumn) bool { return c.Name == k })
		name := quoted(k)
		if dialect == "postgres" && t.Columns[i].Kind == "text" {
			name += ` COLLATE "C"`
		}
		out = append(out, name)
	}
	return strings.Join(out, ", ")
}

func quoted(name string) string { return `"` + name + `"` }

// querier is a database or a transaction on one.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

// shapes reads the archived tables from the catalogue, those that are referred to first.
func shapes(ctx context.Context, db querier, dialect string) ([]tableShape, error) {
	columns, keys, points := sqliteColumns, sqliteKeys, sqlitePoints
	if dialect == "postgres" {
		columns, keys, points = postgresColumns, postgresKeys, postgresPoints
	}
	byName := map[string]*tableShape{}
	err := pairs(ctx, db, columns, func(table, name, kind string) {
		if slices.Contains(notArchived, table) {
			return
		}
		t := byName[table]
		if t == nil {
			t = &tableShape{Name: table}
			byName[table] = t
		}
		t.Columns = append(t.Columns, tableColumn{name, strings.ToLower(kind)})
	})
	if err != nil {
		return nil, err
	}
	if err := pairs(ctx, db, keys, func(table, name, _ string) {
		if t := byName[table]; t != nil {
			t.Key = append(t.Key, name)
		}
	}); err != nil {
		return nil, err
	}
	if err := pairs(ctx, db, points, func(table, to, _ string) {
		if t := byName[table]; t != nil && to != table && !slices.Contains(t.Points, to) {
			t.Points = append(t.Points, to)
		}
	}); err != nil {
		return nil, err
	}
	return referredFirst(byName)
}

// referredFirst orders tables so that each comes after those it refers to, and by name.
func referredFirst(byName map[string]*tableShape) ([]tableShape, error) {
	var out []tableShape
	done := map[string]bool{}
	for len(out) < len(byName) {
		var next []string
		for name, t := range byName {
			if !done[name] && !slices.ContainsFunc(t.Points, func(p string) bool { return byName[p] != nil && !done[p] }) {
				next = append(next, name)
			}
		}
		if len(next) == 0 {
			return nil, fmt.Errorf("tables refer to one another in a ring")
		}
		slices.Sort(next)
		for _, name := range next {
			done[name] = true
			out = append(out, *byName[name])
		}
	}
	return out, nil
}

func pairs(ctx context.Context, db querier, query string, each func(a, b, c string)) error {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return fmt.Errorf("read the catalogue: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		var a, b, c string
		if err := rows.Scan(&a, &b, &c); err != nil {
			return err
		}
		each(a, b, c)
	}
	return rows.Err()
}

const (
	sqliteColumns = `SELECT m.name, p.name, p.type FROM sqlite_schema m, pragma_table_info(m.name) p
		WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite_%' ORDER BY m.name, p.cid`
	sqliteKeys = `SELECT m.name, p.name, '' FROM sqlite_schema m, pragma_table_info(m.name) p
		WHERE m.type = 'table' AND p.pk > 0 ORDER BY m.name, p.pk`
	sqlitePoints = `SELECT m.name, f."table", '' FROM sqlite_schema m, pragma_foreign_key_list(m.name) f
		WHERE m.type = 'table' ORDER BY 1, 2`

	postgresColumns = `SELECT table_name, column_name, data_type FROM information_schema.columns
		WHERE table_schema = current_schema() ORDER BY table_name, ordinal_position`
	postgresKeys = `SELECT c.relname, a.attname, '' FROM pg_index i JOIN pg_class c ON c.oid = i.indrelid
		CROSS JOIN LATERAL unnest(i.indkey) WITH ORDINALITY k(number, place) JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum = k.number
		WHERE i.indisprimary AND c.relnamespace = current_schema()::regnamespace ORDER BY c.relname, k.place`
	postgresPoints = `SELECT c.relname, f.relname, '' FROM pg_constraint o JOIN pg_class c ON c.oid = o.conrelid JOIN pg_class f ON f.oid = o.confrelid
		WHERE o.contype = 'f' AND c.relnamespace = current_schema()::regnamespace ORDER BY 1, 2`
)
