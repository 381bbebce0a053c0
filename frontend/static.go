package frontend

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strings"

	"github.com/labstack/echo/v4"
)

// static holds the styles and scripts, each plain and compressed once, under one
// hash of them all. One hash rather than one a file, so that a module may import
// its neighbour by a relative address.
type static struct {
	hash  string
	files map[string]staticFile
}

type staticFile struct {
	kind        string
	plain, gzip []byte
}

var staticKinds = map[string]string{
	".css": "text/css; charset=utf-8",
	".js":  "text/javascript; charset=utf-8",
	".svg": "image/svg+xml",
}

func newStatic(fsys fs.FS) (*static, error) {
	st := &static{files: map[string]staticFile{}}
	sum := sha256.New()
	err := fs.WalkDir(fsys, "static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		kind, ok := staticKinds[path.Ext(name)]
		if !ok {
			return fmt.Errorf("frontend: %s: files of this kind are not served", name)
		}
		b, err := fs.ReadFile(fsys, name)
		if err != nil {
			return err
		}
		fmt.Fprintf(sum, "%s %d\n", name, len(b))
		sum.Write(b)
		var z bytes.Buffer
		w, err := gzip.NewWriterLevel(&z, gzip.BestCompression)
		if err != nil {
			return err
		}
		w.Write(b) // a bytes.Buffer takes everything
		if err := w.Close(); err != nil {
			return err
		}
		st.files[strings.TrimPrefix(name, "static/")] = staticFile{kind, b, z.Bytes()}
		return nil
	})
	st.hash = hex.EncodeToString(sum.Sum(nil))[:16]
	return st, err
}

// url is the address of a static file: "app.css" gives "/static/<hash>/app.css".
func (st *static) url(name string) (string, error) {
	if _, ok := st.files[name]; !ok {
		return "", fmt.Errorf("no static file %q", name)
	}
	return "/static/" + st.hash + "/" + name, nil
}

// Static registers the route of the styles and scripts.
func (r *Renderer) Static(e *echo.Echo) {
	e.GET("/static/:hash/*", r.static.serve)
	e.HEAD("/static/:hash/*", r.static.serve)
}

// serve answers with a file, for ever fresh under its own hash. A page made by
// another release asks under another hash and gets today's file, not to be kept:
// better than a page without style.
func (st *static) serve(c echo.Context) error {
	f, ok := st.files[c.Param("*")]
	if !ok {
		return echo.ErrNotFound
	}
	h := c.Response().Header()
	if c.Param("hash") == st.hash {
		h.Set(echo.HeaderCacheControl, "public, max-age=31536000, immutable")
	} else {
		h.Set(echo.HeaderCacheControl, "no-store")
	}
	h.Set(echo.HeaderVary, echo.HeaderAcceptEncoding)
	h.Set(echo.HeaderXContentTypeOptions, "nosniff")
	body := f.plain
	if acceptsGzip(c.Request()) {
		h.Set(echo.HeaderContentEncoding, "gzip")
		body = f.gzip
	}
	return c.Blob(http.StatusOK, f.kind, body)
}

func acceptsGzip(req *http.Request) bool {
	for part := range strings.SplitSeq(req.Header.Get(echo.HeaderAcceptEncoding), ",") {
		coding, params, _ := strings.Cut(strings.TrimSpace(part), ";")
		if strings.EqualFold(coding, "gzip") {
			q := strings.ReplaceAll(params, " ", "")
			return q != "q=0" && !strings.HasPrefix(q, "q=0.0")
		}
	}
	return false
}
