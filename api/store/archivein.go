package store

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"flitchbook/migrations"
)

// An ArchiveError says why an archive cannot be read in, in words for whoever brought it.
type ArchiveError struct{ Reason string }

func (e ArchiveError) Error() string { return e.Reason }

func noArchive(format string, args ...any) error { return ArchiveError{fmt.Sprintf(format, args...)} }

// TakeIn reads an archive into an empty database of the same shape: everything or
// nothing. It returns how many records came in.
func (s *Store) TakeIn(ctx context.Context, r io.ReaderAt, size int64) (records int, err error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return 0, noArchive("This is not an archive of records: %v.", err)
	}
	list, err := readList(z)
	if err != nil {
		return 0, err
	}
	db, err := s.write.DB()
	if err != nil {
		return 0, err
	}
	shape, err := migrations.Version(ctx, db, s.dialect)
	if err != nil {
		return 0, err
	}
	if list.Shape != shape {
		return 0, noArchive("The archive is of shape %d and this program keeps shape %d. Read it in with the program it was taken out with, bring that database up to date, and take it out again.", list.Shape, shape)
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return 0, err
	}
	defer tx.Rollback()
	tables, err := shapes(ctx, tx, s.dialect)
	if err != nil {
		return 0, err
	}
	if err := sameTables(list, tables); err != nil {
		return 0, err
	}
	for _, t := range tables {
		empty := true
		if err := pairs(ctx, tx, "SELECT '', '', '' FROM "+quoted(t.Name)+" LIMIT 1", func(_, _, _ string) { empty = false }); err != nil {
			return 0, err
		}
		// The shop's name and domain may have been noted when the database was opened.
		if !empty && t.Name != "settings" {
			return 0, noArchive("The database is not empty: there are %s in it. Nothing was read in.", strings.ReplaceAll(t.Name, "_", " "))
		}
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM settings"); err != nil {
		return 0, err
	}
	for _, t := range tables {
		a := list.Tables[slices.IndexFunc(list.Tables, func(a archiveTable) bool { return a.Name == t.Name })]
		n, err := s.readTable(ctx, tx, z, a, t)
		if err != nil {
			return 0, err
		}
		records += n
	}
	return records, tx.Commit()
}

func readList(z *zip.Reader) (*archiveIndex, error) {
	f, err := z.Open(archiveList)
	if err != nil {
		return nil, noArchive("This is not an archive of records: it has no %s.", archiveList)
	}
	defer f.Close()
	var list archiveIndex
	if err := json.NewDecoder(io.LimitReader(f, 1<<20)).Decode(&list); err != nil {
		return nil, noArchive("The archive's %s cannot be read: %v.", archiveList, err)
	}
	if list.Format != archiveFormat {
		return nil, noArchive("The archive is of format %d; this program reads format %d.", list.Format, archiveFormat)
	}
	return &list, nil
}

// sameTables holds an archive's list against the database: no more, no less.
func sameTables(list *archiveIndex, tables []tableShape) error {
	names := map[string][]string{}
	for _, a := range list.Tables {
		if names[a.Name] != nil {
			return noArchive("The archive lists %s twice.", a.Name)
		}
		names[a.Name] = a.Columns
	}
	for _, t := range tables {
		switch columns, ok := names[t.Name]; {
		case !ok:
			return noArchive("The archive has no %s.", t.Name)
		case !slices.Equal(columns, t.names()):
			return noArchive("The archive's %s have other columns than this program keeps.", t.Name)
		}
		delete(names, t.Name)
	}
	for name := range names {
		return noArchive("The archive has %s, which this program does not know.", name)
	}
	return nil
}

// readTable puts one file's lines into its table, some hundred at a time.
func (s *Store) readTable(ctx context.Context, db querier, z *zip.Reader, a archiveTable, t tableShape) (int, error) {
	f, err := z.Open(a.File)
	if err != nil {
		return 0, noArchive("The archive has no %s.", a.File)
	}
	defer f.Close()
	sum := sha256.New()
	lines := bufio.NewReader(io.TeeReader(f, sum))
	n, most := 0, 10_000/len(t.Columns)
	var values []any
	put := func() error {
		if len(values) == 0 {
			return nil
		}
		_, err := db.ExecContext(ctx, s.insert(t, len(values)/len(t.Columns)), values...)
		values = values[:0]
		if err != nil {
			return noArchive("%s, line %d or a little before: the database refuses it: %v.", a.File, n, err)
		}
		return nil
	}
	for {
		line, err := lines.ReadBytes('\n')
		if len(bytes.TrimSpace(line)) > 0 {
			n++
			row, bad := fromArchive(t, line)
			if bad != nil {
				return n, noArchive("%s, line %d: %v.", a.File, n, bad)
			}
			if values = append(values, row...); len(values) >= most*len(t.Columns) {
				if err := put(); err != nil {
					return n, err
				}
			}
		}
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return n, noArchive("%s cannot be read: %v.", a.File, err)
		}
	}
	if err := put(); err != nil {
		return n, err
	}
	if n != a.Rows || hex.EncodeToString(sum.Sum(nil)) != a.SHA256 {
		return n, noArchive("%s is not as it was taken out: %d lines of %d, or changed since.", a.File, n, a.Rows)
	}
	if s.dialect == "postgres" && t.Columns[0].Name == "id" {
		// Numbers given from now on follow those that came in.
		_, err := db.ExecContext(ctx, "SELECT setval(pg_get_serial_sequence($1, 'id'), coalesce((SELECT max(id) FROM "+quoted(t.Name)+"), 0) + 1, false)", t.Name)
		return n, err
	}
	return n, nil
}

func (s *Store) insert(t tableShape, rows int) string {
	var b strings.Builder
	b.WriteString("INSERT INTO " + quoted(t.Name) + " (")
	for i, c := range t.Columns {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(quoted(c.Name))
	}
	b.WriteString(") VALUES ")
	k := 0
	for r := range rows {
		if r > 0 {
			b.WriteString(", ")
		}
		b.WriteByte('(')
		for i := range t.Columns {
			if i > 0 {
				b.WriteString(", ")
			}
			k++
			if s.dialect == "postgres" {
				fmt.Fprintf(&b, "$%d", k)
			} else {
				b.WriteByte('?')
			}
		}
		b.WriteByte(')')
	}
	return b.String()
}

// fromArchive reads a line into the values of a row, in the order of the columns.
func fromArchive(t tableShape, line []byte) ([]any, error) {
	d := json.NewDecoder(bytes.NewReader(line))
	d.UseNumber()
	var obj map[string]any
	if err := d.Decode(&obj); err != nil {
		return nil, err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("there is more than one record on it")
	}
	if len(obj) != len(t.Columns) {
		return nil, fmt.Errorf("it has %d columns of %d", len(obj), len(t.Columns))
	}
	row := make([]any, len(t.Columns))
	for i, c := range t.Columns {
		v, ok := obj[c.Name]
		if !ok {
			return nil, fmt.Errorf("it has no %s", c.Name)
		}
		switch v := v.(type) {
		case nil:
		case string:
			if c.Kind != "text" {
				return nil, fmt.Errorf("%s is no number: %q", c.Name, v)
			}
			row[i] = v
		case json.Number:
			n, err := v.Int64()
			if err != nil || c.Kind == "text" {
				return nil, fmt.Errorf("%s cannot be %s", c.Name, v)
			}
			row[i] = n
			if c.Kind == "boolean" {
				row[i] = n != 0
			}
		default:
			return nil, fmt.Errorf("%s is neither a number nor words", c.Name)
		}
	}
	return row, nil
}
