package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
)

// block is a stretch of a source file as the coverage of Go counts it, by line and column.
type block struct{ Line0, Col0, Line1, Col1 int }

func (b block) has(line, col int) bool {
	return (b.Line0 < line || b.Line0 == line && b.Col0 <= col) && (line < b.Line1 || line == b.Line1 && col < b.Col1)
}

// tested is one test and what it reaches of the package with the faults.
type tested struct {
	Name  string
	Took  time.Duration      // of the processor
	Reach map[string][]block // by name of the file
}

// suite is the tests of a package that pass as they are, quickest first, and the blocks of the package with the faults.
type suite struct {
	Blocks map[string][]block // by name of the file
	Tests  []tested
}

// suite runs each test of q alone and notes which blocks of p it reaches. What it finds is kept beside the build cache
// until a test or the package changes.
func (t *tree) suite(ctx context.Context, q, p *listed, s settings, log io.Writer) (*suite, error) {
	dir, err := os.MkdirTemp("", "reach")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	binary := filepath.Join(dir, "reach.test")
	if text, err := t.build(ctx, q, binary, "-cover", "-covermode=set", "-coverpkg="+p.ImportPath); err != nil {
		return nil, fmt.Errorf("tests of %s: %w\n%s", q.ImportPath, err, text)
	}
	out := &suite{Blocks: map[string][]block{}}
	kept, err := keptFile(binary, s)
	if err != nil {
		return nil, err
	}
	if text, err := os.ReadFile(kept); err == nil && json.Unmarshal(text, out) == nil {
		return out, nil
	}
	text, err := t.command(ctx, q, binary, "-test.list", "^Test").Output()
	if err != nil {
		return nil, fmt.Errorf("list of tests of %s: %w", q.ImportPath, err)
	}
	names := slices.DeleteFunc(strings.Fields(string(text)), s.skipTests.MatchString)
	var lock sync.Mutex
	err = inTurns(ctx, names, s.jobs, func(i int, name string) error {
		profile := filepath.Join(dir, fmt.Sprintf("%d.out", i))
		r, took, err := t.one(ctx, q, binary, name, s.limit, 0, "-test.coverprofile", profile)
		if err != nil {
			return err
		}
		if r != missed {
			fmt.Fprintf(log, "%s: %s does not pass as it is: left out\n", q.ImportPath, name)
			return nil
		}
		all, reach, err := readProfile(profile)
		if err != nil {
			return err
		}
		lock.Lock()
		defer lock.Unlock()
		out.Blocks = all
		out.Tests = append(out.Tests, tested{name, took, reach})
		return nil
	})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(out.Tests, func(a, b tested) int { return int(a.Took - b.Took) })
	if text, err = json.Marshal(out); err != nil {
		return nil, err
	}
	return out, os.WriteFile(kept, text, 0o644)
}

// keptFile is where the reach of a test binary is kept.
func keptFile(binary string, s settings) (string, error) {
	text, err := os.ReadFile(binary)
	if err != nil {
		return "", err
	}
	dir, err := os.UserCacheDir()
	if err != nil {
		dir = os.TempDir()
	}
	dir = filepath.Join(dir, "meltload-mutate")
	sum := sha256.Sum256(append(text, s.skipTests.String()...))
	return filepath.Join(dir, fmt.Sprintf("%x.json", sum[:12])), os.MkdirAll(dir, 0o755)
}

// readProfile reads the blocks of a coverage profile, all of them and those that were run.
func readProfile(name string) (all, run map[string][]block, err error) {
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, nil, err
	}
	all, run = map[string][]block{}, map[string][]block{}
	for sc := bufio.NewScanner(bytes.NewReader(text)); sc.Scan(); {
		file, rest, ok := strings.Cut(sc.Text(), ".go:")
		if !ok {
			continue // the first line, the mode
		}
		var b block
		var statements, count int
		if _, err := fmt.Sscanf(rest, "%d.%d,%d.%d %d %d", &b.Line0, &b.Col0, &b.Line1, &b.Col1, &statements,
			&count); err != nil {
			return nil, nil, fmt.Errorf("%s: %q: %w", name, sc.Text(), err)
		}
		file = path.Base(file) + ".go"
		all[file] = append(all[file], b)
		if count > 0 {
			run[file] = append(run[file], b)
		}
	}
	return all, run, nil
}

// reaching are the tests that reach a fault, quickest first: those that run the block that it lies in; where it lies in
// no block, as a case of a switch does, those that run part of the function from line a to b; all where it lies in no
// function (a is 0).
func (s *suite) reaching(f fault, a, b int) []tested {
	if a == 0 {
		return s.Tests
	}
	name := filepath.Base(f.file)
	in := func(x block) bool { return x.has(f.line, f.column) }
	if !slices.ContainsFunc(s.Blocks[name], in) {
		in = func(x block) bool { return x.Line0 >= a && x.Line1 <= b }
	}
	return slices.DeleteFunc(slices.Clone(s.Tests), func(t tested) bool {
		return !slices.ContainsFunc(t.Reach[name], in)
	})
}

// command is a test binary of a package, run where go test runs it.
func (t *tree) command(ctx context.Context, q *listed, binary string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, binary, args...)
	cmd.Dir = q.Dir
	cmd.Env = append(os.Environ(), "RAPID_NOFAILFILE=true") // a failure is wanted here; the tree stays as it is
	return cmd
}

// build makes the test binary of a package; a failure comes with what the compiler said.
func (t *tree) build(ctx context.Context, q *listed, binary string, flags ...string) (string, error) {
	args := append([]string{"test", "-c", "-vet=off", "-o", binary}, flags...)
	cmd := exec.CommandContext(ctx, "go", append(args, q.ImportPath)...)
	cmd.Dir = t.root
	text, err := cmd.CombinedOutput()
	if err == nil {
		if _, err = os.Stat(binary); err != nil {
			err = errors.New("it has no tests")
		}
	}
	return string(text), err
}

// one runs one test with one fault on, 0 for none, and returns the processor time that it took: a busy machine must not
// make a test late. On such a machine the clock is allowed four times as much.
func (t *tree) one(ctx context.Context, q *listed, binary, test string, limit time.Duration, on int, args ...string) (
	outcome, time.Duration, error) {
	within, cancel := context.WithTimeout(ctx, 4*limit)
	defer cancel()
	cmd := t.command(within, q, binary, append([]string{"-test.run", "^" + test + "$",
		"-test.failfast"}, args...)...)
	cmd.Env = append(cmd.Env, fmt.Sprintf("%s=%d", environment, on))
	err := cmd.Run()
	took := time.Duration(0)
	if cmd.ProcessState != nil {
		took = cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
	}
	var exit *exec.ExitError
	switch {
	case ctx.Err() != nil:
		return missed, took, ctx.Err()
	case within.Err() != nil && took > limit/2:
		return late, took, nil
	case within.Err() != nil:
		return starved, took, nil
	case err == nil:
		return missed, took, nil
	case errors.As(err, &exit):
		return found, took, nil
	default:
		return missed, took, err
	}
}

// inTurns does work on every item, several at once.
func inTurns[T any](ctx context.Context, items []T, jobs int, do func(i int, x T) error) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var group sync.WaitGroup
	next := make(chan int)
	for range jobs {
		group.Go(func() {
			for i := range next {
				if err := do(i, items[i]); err != nil {
					cancel(err)
				}
			}
		})
	}
	for i := range items {
		select {
		case next <- i:
		case <-ctx.Done():
		}
	}
	close(next)
	group.Wait()
	return context.Cause(ctx)
}
