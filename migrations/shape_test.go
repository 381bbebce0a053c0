package migrations_test

import (
	"database/sql"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// A shape is what a database says of a table, in words that are the same for both.
type shape struct {
	Columns map[string]string // name to kind, "or none" and default
	Primary string
	Unique  []string // columns, and for an index over a part of the rows what picks them
	Indexes []string // the others
	Checks  []string // columns and literals of each
	Points  []string // foreign keys
}

func column[T any](t *testing.T, db *sql.DB, query string, args ...any) []T {
	t.Helper()
	var out []T
	for _, r := range rows(t, db, 1, query, args...) {
		v, ok := r[0].(T)
		if n, isInt := r[0].(int64); isInt {
			v, ok = any(int(n)).(T)
		}
		if !ok {
			t.Fatalf("%T where %T was wanted", r[0], v)
		}
		out = append(out, v)
	}
	return out
}

func rows(t *testing.T, db *sql.DB, n int, query string, args ...any) [][]any {
	t.Helper()
	rs, err := db.Query(query, args...)
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	defer rs.Close()
	var out [][]any
	for rs.Next() {
		v, p := make([]any, n), make([]any, n)
		for i := range v {
			p[i] = &v[i]
		}
		if err := rs.Scan(p...); err != nil {
			t.Fatal(err)
		}
		for i := range v {
			switch x := v[i].(type) {
			case []byte:
				v[i] = string(x)
			case nil:
				v[i] = ""
			}
		}
		out = append(out, v)
	}
	if err := rs.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

func shapeOf(t *testing.T, db *sql.DB, dialect string) map[string]shape {
	t.Helper()
	var out map[string]shape
	if dialect == "sqlite" {
		out = sqliteShape(t, db)
	} else {
		out = postgresShape(t, db)
	}
	for name, s := range out {
		for _, l := range [][]string{s.Unique, s.Indexes, s.Checks, s.Points} {
			slices.Sort(l)
		}
		out[name] = s
	}
	return out
}

func sqliteShape(t *testing.T, db *sql.DB) map[string]shape {
	out := map[string]shape{}
	for _, r := range rows(t, db, 2, "SELECT name, sql FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name <> 'goose_db_version'") {
		name, ddl := r[0].(string), r[1].(string)
		s := shape{Columns: map[string]string{}}
		truth := map[string]bool{}
		var cols, primary []string
		info := rows(t, db, 5, `SELECT name, type, "notnull", dflt_value, pk FROM pragma_table_info(?) ORDER BY cid`, name)
		for _, c := range info {
			cols = append(cols, c[0].(string))
		}
		for _, c := range checks(ddl) {
			if m := yesNo.FindStringSubmatch(c); m != nil {
				truth[m[1]] = true
			} else {
				s.Checks = append(s.Checks, gist(c, cols))
			}
		}
		for _, c := range info {
			col, kind := c[0].(string), c[1].(string)
			if truth[col] {
				kind = "BOOLEAN"
			}
			if c[4].(int64) > 0 {
				primary = append(primary, col)
			}
			s.Columns[col] = kinds[kind] + orNone(c[2].(int64) == 0 && c[4].(int64) == 0) + fallback(c[3].(string))
		}
		slices.Sort(primary)
		s.Primary = strings.Join(primary, ", ")
		for _, i := range rows(t, db, 4, `SELECT l.name, l."unique", l.origin, coalesce(m.sql, '') FROM pragma_index_list(?) l LEFT JOIN sqlite_master m ON m.name = l.name`, name) {
			if i[2] == "pk" {
				continue
			}
			text := strings.Join(column[string](t, db, "SELECT name FROM pragma_index_info(?) ORDER BY seqno", i[0]), ", ")
			if m := ofExpression.FindStringSubmatch(i[3].(string)); m != nil {
				text = m[1] // the only column, which the database does not name
			}
			if _, where, ok := strings.Cut(i[3].(string), " WHERE "); ok {
				text += " where " + gist(where, cols)
			}
			if i[2] == "c" {
				text = i[0].(string) + ": " + text
			}
			if i[1].(int64) == 1 {
				s.Unique = append(s.Unique, text)
			} else {
				s.Indexes = append(s.Indexes, text)
			}
		}
		for _, f := range rows(t, db, 3, `SELECT "from", "table", "to" FROM pragma_foreign_key_list(?)`, name) {
			s.Points = append(s.Points, f[0].(string)+" to "+f[1].(string)+"."+f[2].(string))
		}
		out[name] = s
	}
	return out
}

func postgresShape(t *testing.T, db *sql.DB) map[string]shape {
	out := map[string]shape{}
	cols := map[string][]string{}
	for _, r := range rows(t, db, 6, `SELECT table_name, column_name, data_type, is_nullable, coalesce(column_default, ''), is_identity
			FROM information_schema.columns WHERE table_schema = current_schema() AND table_name <> 'goose_db_version' ORDER BY ordinal_position`) {
		table, col := r[0].(string), r[1].(string)
		s, ok := out[table]
		if !ok {
			s.Columns = map[string]string{}
		}
		s.Columns[col] = kinds[strings.ToUpper(r[2].(string))] + orNone(r[3] == "YES") + fallback(r[4].(string))
		cols[table] = append(cols[table], col)
		out[table] = s
	}
	for _, r := range rows(t, db, 6, `SELECT t.relname::text, x.relname::text, i.indisunique, i.indisprimary,
			coalesce(pg_get_expr(i.indpred, i.indrelid), ''),
			coalesce((SELECT string_agg(a.attname, ', ' ORDER BY k.n) FROM unnest(i.indkey) WITH ORDINALITY k(col, n) JOIN pg_attribute a ON a.attrelid = i.indrelid AND a.attnum = k.col),
				pg_get_expr(i.indexprs, i.indrelid))
			|| CASE WHEN EXISTS (SELECT 1 FROM pg_constraint c WHERE c.conindid = i.indexrelid AND c.contype = 'u') THEN '' ELSE '!' END
			FROM pg_index i JOIN pg_class t ON t.oid = i.indrelid JOIN pg_class x ON x.oid = i.indexrelid
			WHERE t.relnamespace = current_schema()::regnamespace AND t.relname <> 'goose_db_version'`) {
		table, name, where := r[0].(string), r[1].(string), r[4].(string)
		text, named := strings.CutSuffix(r[5].(string), "!")
		s := out[table]
		if r[3].(bool) {
			p := strings.Split(text, ", ")
			slices.Sort(p)
			s.Primary = strings.Join(p, ", ")
			out[table] = s
			continue
		}
		if where != "" {
			text += " where " + gist(where, cols[table])
		}
		if named {
			text = name + ": " + text
		}
		if r[2].(bool) {
			s.Unique = append(s.Unique, text)
		} else {
			s.Indexes = append(s.Indexes, text)
		}
		out[table] = s
	}
	for _, r := range rows(t, db, 3, `SELECT t.relname::text, c.contype::text, pg_get_constraintdef(c.oid) FROM pg_constraint c JOIN pg_class t ON t.oid = c.conrelid
			WHERE t.relnamespace = current_schema()::regnamespace AND c.contype IN ('c', 'f')`) {
		s, def := out[r[0].(string)], r[2].(string)
		if r[1] == "c" {
			s.Checks = append(s.Checks, gist(strings.TrimPrefix(def, "CHECK "), cols[r[0].(string)]))
		} else if m := pointer.FindStringSubmatch(def); m != nil {
			s.Points = append(s.Points, m[1]+" to "+m[2]+"."+m[3])
		} else {
			t.Errorf("not read: %s", def)
		}
		out[r[0].(string)] = s
	}
	return out
}

var (
	kinds   = map[string]string{"INTEGER": "number", "BIGINT": "number", "TEXT": "text", "BOOLEAN": "yes or no", "BLOB": "bytes", "BYTEA": "bytes"}
	yesNo   = regexp.MustCompile(`^\(\s*"?(\w+)"?\s+IN\s+\(0, 1\)\s*\)$`)
	pointer = regexp.MustCompile(`^FOREIGN KEY \((\w+)\) REFERENCES (?:\w+\.)?(\w+)\((\w+)\)$`)
	literal = regexp.MustCompile(`'[^']*'|\b\d+\b`)
	word    = regexp.MustCompile(`\b[a-z_]\w*\b`)
	// ofExpression is an index of one reckoned value.
	ofExpression = regexp.MustCompile(` ON \w+ \((\w+\(\w+\))\)`)
	cast         = regexp.MustCompile(`::[a-z]+(\[\])?`)
)

func orNone(yes bool) string {
	if yes {
		return " or none"
	}
	return ""
}

// fallback writes a default the same for both; PostgreSQL adds the type to a text.
func fallback(d string) string {
	switch d = cast.ReplaceAllString(d, ""); d {
	case "":
		return ""
	case "false", "FALSE":
		d = "0"
	}
	return ", else " + d
}

// checks cuts the conditions out of a table's definition.
func checks(ddl string) []string {
	var out []string
	for {
		_, rest, ok := strings.Cut(ddl, "CHECK (")
		if !ok {
			return out
		}
		depth, end := 1, 0
		for ; depth > 0; end++ {
			switch rest[end] {
			case '(':
				depth++
			case ')':
				depth--
			}
		}
		out = append(out, "("+rest[:end])
		ddl = rest[end:]
	}
}

// gist is the columns and the literals of a condition, each once: PostgreSQL writes
// "BETWEEN 0 AND seats" out, so the words between them cannot be compared.
func gist(cond string, cols []string) string {
	cond = cast.ReplaceAllString(cond, "")
	lits := literal.FindAllString(cond, -1)
	var names []string
	for _, w := range word.FindAllString(literal.ReplaceAllString(cond, ""), -1) {
		if slices.Contains(cols, w) {
			names = append(names, w)
		}
	}
	slices.Sort(names)
	slices.Sort(lits)
	return strings.Join(slices.Compact(names), ", ") + " with " + strings.Join(slices.Compact(lits), ", ")
}
