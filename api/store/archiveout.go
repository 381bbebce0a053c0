package store

import (
	"archive/zip"
	"bufio"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"flitchbook/migrations"
)

// TakeOut writes all records as they stand at one moment to w, as an archive, while
// others go on working. It holds personal data and what people cannot eat: whoever has
// it must keep it as carefully as the database.
func (s *Store) TakeOut(ctx context.Context, w io.Writer) error {
	db, err := s.reads.DB()
	if err != nil {
		return err
	}
	shape, err := migrations.Version(ctx, db, s.dialect)
	if err != nil {
		return err
	}
	// One transaction, so that no file knows more than another.
	var opts *sql.TxOptions
	if s.dialect == "postgres" {
		opts = &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}
	}
	tx, err := db.BeginTx(ctx, opts)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	tables, err := shapes(ctx, tx, s.dialect)
	if err != nil {
		return err
	}
	z := zip.NewWriter(w)
	list := archiveIndex{Format: archiveFormat, Shape: shape, Shop: s.Config.Shop, TakenAt: s.now().UTC().Format("2006-01-02T15:04:05Z")}
	for _, t := range tables {
		a := archiveTable{Name: t.Name, File: "tables/" + t.Name + ".jsonl", Columns: t.names()}
		f, err := z.Create(a.File)
		if err != nil {
			return err
		}
		sum := sha256.New()
		if a.Rows, err = writeTable(ctx, tx, t, s.dialect, io.MultiWriter(f, sum)); err != nil {
			return fmt.Errorf("take out %s: %w", t.Name, err)
		}
		a.SHA256 = hex.EncodeToString(sum.Sum(nil))
		list.Tables = append(list.Tables, a)
	}
	f, err := z.Create(archiveWords)
	if err != nil {
		return err
	}
	if _, err := io.WriteString(f, archiveText); err != nil {
		return err
	}
	if f, err = z.Create(archiveList); err != nil {
		return err
	}
	e := json.NewEncoder(f)
	e.SetIndent("", "  ")
	if err := e.Encode(list); err != nil {
		return err
	}
	return z.Close()
}

const archiveText = `The records of a shop kept by Flitchbook, in open files.

tables/NAME.jsonl   one kind of record; one JSON object a line, sorted by its key
list.json           the files with their columns, number of lines and SHA-256

Money is in cents, weight in nanograms (1 lb = 453592370000), instants in seconds since
1970-01-01 00:00 UTC, days as 2026-11-07, yes and no as 1 and 0. What is not known is
null. Names that end in _id are the id of a line in another file.

"flitchbook import FILE" reads it into a new, empty database of either kind. Secret links
in mails already sent go on working only with the shop's secret file, which is not in here.

There are names, addresses and what people cannot eat in these files. Keep them safe.
`

// writeTable writes one JSON object a line and says how many.
func writeTable(ctx context.Context, db querier, t tableShape, dialect string, w io.Writer) (n int, err error) {
	names := make([]string, len(t.Columns))
	labels := make([][]byte, len(t.Columns))
	for i, c := range t.Columns {
		names[i] = quoted(c.Name)
		if labels[i], err = json.Marshal(c.Name); err != nil {
			return 0, err
		}
	}
	query := "SELECT " + strings.Join(names, ", ") + " FROM " + quoted(t.Name)
	if by := t.order(dialect); by != "" {
		query += " ORDER BY " + by
	}
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return 0, err
	}
	defer rows.Close()
	out := bufio.NewWriter(w)
	values, into := make([]any, len(t.Columns)), make([]any, len(t.Columns))
	for i := range values {
		into[i] = &values[i]
	}
	for ; rows.Next(); n++ {
		if err := rows.Scan(into...); err != nil {
			return n, err
		}
		for i, v := range values {
			out.WriteByte("{,"[min(i, 1)])
			out.Write(labels[i])
			out.WriteByte(':')
			b, err := archived(v)
			if err != nil {
				return n, fmt.Errorf("column %s: %w", t.Columns[i].Name, err)
			}
			out.Write(b)
		}
		out.WriteString("}\n")
	}
	if err := rows.Err(); err != nil {
		return n, err
	}
	return n, out.Flush()
}

// archived writes a value of either database in the one way of the archive.
func archived(v any) ([]byte, error) {
	switch v := v.(type) {
	case nil:
		return []byte("null"), nil
	case bool:
		if v {
			return []byte("1"), nil
		}
		return []byte("0"), nil
	case int64, string:
		return json.Marshal(v)
	}
	return nil, fmt.Errorf("a value of %T has no place in an archive", v)
}
