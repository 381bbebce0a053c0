package mail

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// Folder writes messages as .eml files: the way a shop without a mail server, a demo
// and a test read their mail. Names sort by time.
type Folder struct{ Dir string }

// Send writes the message whole or not at all. A message that is there already is
// written over, not twice.
func (f Folder) Send(ctx context.Context, m Message) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	b, err := m.Bytes()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(f.Dir, 0o700); err != nil {
		return fmt.Errorf("mail folder: %w", err)
	}
	id, _, _ := strings.Cut(m.ID, "@")
	name := m.At.Time().Format("20060102T150405Z") + "-" + id + ".eml"
	if was, err := filepath.Glob(filepath.Join(f.Dir, "*-"+id+".eml")); err == nil && len(was) > 0 {
		name = filepath.Base(was[0])
	}
	writing := ".writing-" + id + "-"
	tmp, err := os.CreateTemp(f.Dir, writing+"*")
	if err != nil {
		return fmt.Errorf("mail folder: %w", err)
	}
	defer os.Remove(tmp.Name()) // nothing is there any more once it has its name
	_, err = tmp.Write(b)
	if err == nil {
		err = tmp.Sync()
	}
	if cerr := tmp.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(tmp.Name(), filepath.Join(f.Dir, name))
	}
	if err != nil {
		return fmt.Errorf("mail folder: %w", err)
	}
	// A program killed while it wrote this message left its half behind.
	if left, err := filepath.Glob(filepath.Join(f.Dir, writing+"*")); err == nil {
		for _, l := range left {
			os.Remove(l)
		}
	}
	return nil
}
