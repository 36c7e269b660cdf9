//go:build unix

package sqlite

import (
	"bufio"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"golang.org/x/sys/unix"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/keep/storetest"
	"icehand/internal/trade/journal"
)

// These name the data folder of a child process: of the kill test, and of the test with a failing disk.
const (
	childFolder = "ICEHAND_TEST_WRITE_TO"
	retryFolder = "ICEHAND_TEST_RETRY_IN"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(childFolder); dir != "" {
		if err := writeForEver(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	if dir := os.Getenv(retryFolder); dir != "" {
		if err := writeAndRetry(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// writeAndRetry appends ten calls of three entries to a store that is there, each again with the same ids until it is
// answered as saved, and writes to standard output how often it was not.
func writeAndRetry(dir string) error {
	ctx := context.Background()
	s, err := Open(ctx, dir, Options{Program: "child"})
	if err != nil {
		return err
	}
	fmt.Println("open")
	failed := 0
	for i := range 10 {
		drafts := season(3, 3*i)
		for try := 0; ; try++ {
			_, err := s.Append(ctx, drafts)
			if err == nil {
				break
			}
			if failed++; fault.CodeOf(err) != fault.NotSaved || try == 5 {
				return err
			}
		}
	}
	fmt.Println(failed)
	return s.Close()
}

// TestFailingDisk lets one system call fail as a bad disk does, each of the first calls in turn: what was answered as not
// saved is repeated, and in the end every act is there once.
func TestFailingDisk(t *testing.T) {
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Skip("not tested here: failing system calls need strace")
	}
	failures, started := 0, 0
	for _, fail := range []string{"fsync,fdatasync:error=EIO", "pwrite64:error=EIO", "pwrite64:error=ENOSPC"} {
		for when := 1; when <= 20; when++ {
			dir := t.TempDir()
			openTest(t, dir, Options{}).Close()
			child := exec.Command(strace, "-f", "-qq", "-o", os.DevNull, "-e", fmt.Sprintf("inject=%s:when=%d", fail, when), os.Args[0])
			child.Env = append(os.Environ(), retryFolder+"="+dir)
			var complaint strings.Builder
			child.Stderr = &complaint
			out, err := child.Output()
			if strings.Contains(complaint.String(), "ptrace") {
				t.Skipf("not tested here: %s", complaint.String())
			}
			answers, opened := strings.CutPrefix(string(out), "open\n")
			if err != nil && !opened && complaint.Len() > 0 {
				continue // refused before anything was promised, in words
			}
			n, notNumber := strconv.Atoi(strings.TrimSpace(answers))
			if err != nil || notNumber != nil {
				t.Errorf("%s, call %d: %v, %s%s", fail, when, err, out, complaint.String())
				continue
			}
			failures += n
			started++
			storetest.Sound(t, openTest(t, dir, Options{ReadOnly: true}), 30)
		}
	}
	t.Logf("%d runs, %d calls answered as not saved and repeated", started, failures)
	if failures == 0 {
		t.Error("no call failed: the test tests nothing")
	}
}

// writeForEver appends calls of 1 to 5 entries and, after each has been answered, writes its act ids to standard output.
func writeForEver(dir string) error {
	ctx := context.Background()
	s, err := Open(ctx, dir, Options{Program: "child"})
	if err != nil {
		return err
	}
	for i := 0; ; i++ {
		es, err := s.Append(ctx, season(1+i%5, i))
		if err != nil {
			return err
		}
		var line strings.Builder
		for _, e := range es {
			fmt.Fprintf(&line, "%s %d\n", e.ID, e.N)
		}
		if _, err := os.Stdout.WriteString(line.String()); err != nil {
			return err
		}
	}
}

// TestKill kills a writer in mid write, again and again in the same folder: every entry it has been told is saved is
// there, with its number, and everything verifies. ICEHAND_SOAK=300 runs 300 rounds. A kill does not test a power cut.
func TestKill(t *testing.T) {
	rounds := 20
	if v, err := strconv.Atoi(os.Getenv("ICEHAND_SOAK")); err == nil {
		rounds = v
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	dir := t.TempDir()
	acked := map[uuid.UUID]uint64{}
	started := 0
	for round := range rounds {
		n := len(acked)
		killAfter(t, dir, time.Duration(30+rng.IntN(171))*time.Millisecond, acked)
		if len(acked) > n {
			started++
		}
		s := openTest(t, dir, Options{}) // the lock of the killed process is gone
		left := len(acked)
		for _, e := range storetest.ReadAll(t, s, 0) {
			if n, ok := acked[e.ID]; ok {
				if left--; n != e.N {
					t.Errorf("round %d: act %s acknowledged as %d is %d", round, e.ID, n, e.N)
				}
			}
		}
		if left != 0 {
			t.Fatalf("round %d: %d of %d acknowledged entries are gone", round, left, len(acked))
		}
		if a, err := s.Verify(t.Context()); err != nil || !a.Sound() {
			t.Fatalf("round %d: %+v, %v", round, a, err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if started < rounds/2 {
		t.Errorf("only %d of %d writers came to write: the test tests nothing", started, rounds)
	}
	t.Logf("%d entries acknowledged over %d kills", len(acked), rounds)
}

// killAfter runs a writer and kills it so long after its first acknowledgement, or after ten seconds without one.
func killAfter(t *testing.T, dir string, after time.Duration, acked map[uuid.UUID]uint64) {
	t.Helper()
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childFolder+"="+dir)
	child.Stderr = os.Stderr
	out, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	kill := time.AfterFunc(10*time.Second, func() { child.Process.Kill() })
	lines := bufio.NewReader(out)
	for first := true; ; first = false {
		line, err := lines.ReadString('\n')
		if err != nil {
			break // a torn last line was not acknowledged whole
		}
		if first {
			kill.Reset(after)
		}
		id, number, _ := strings.Cut(strings.TrimSpace(line), " ")
		n, err := strconv.ParseUint(number, 10, 64)
		if err != nil {
			t.Fatalf("line %q", line)
		}
		acked[uuid.MustParse(id)] = n
	}
	child.Wait()
	kill.Stop()
}

var errDisk = errors.New("the disk said no")

// A commit that is reported failed may have happened or not. Either way the same call again gives each act once.
func TestFailedCommit(t *testing.T) {
	for name, commit := range map[string]func(*sql.Tx) error{
		"though it happened": func(tx *sql.Tx) error { return errors.Join(tx.Commit(), errDisk) },
		"and did not happen": func(tx *sql.Tx) error { return errors.Join(tx.Rollback(), errDisk) },
		"and hangs open":     func(*sql.Tx) error { return errDisk }, // the connection is still in the transaction
	} {
		t.Run(name, func(t *testing.T) {
			s := openTest(t, t.TempDir(), Options{})
			storetest.Append(t, s, season(3, 0))
			drafts := season(250, 3)
			s.commit = commit
			_, err := s.Append(t.Context(), drafts)
			if !errors.Is(err, store.ErrUnknownOutcome) || !errors.Is(err, errDisk) || fault.CodeOf(err) != fault.NotSaved {
				t.Errorf("answered %v", err)
			}
			if _, err := s.PutBlob(t.Context(), []byte("b")); !errors.Is(err, store.ErrUnknownOutcome) {
				t.Errorf("a blob: %v", err)
			}
			s.commit = (*sql.Tx).Commit
			for range 2 {
				es := storetest.Append(t, s, drafts)
				for i, e := range es {
					if e.ID != drafts[i].ID || e.N != uint64(4+i) {
						t.Fatalf("draft %d became entry %d", i, e.N)
					}
				}
			}
			if _, err := s.PutBlob(t.Context(), []byte("b")); err != nil {
				t.Error(err)
			}
			storetest.Sound(t, s, 253)
		})
	}
}

// TestDiskFull fills a disk of 4 MiB three times: nothing acknowledged is lost, the answer says that the disk is full,
// and the same open store goes on when there is space again.
func TestDiskFull(t *testing.T) {
	disk := smallDisk(t, 4<<20)
	s := openTest(t, filepath.Join(disk, "data"), Options{})
	ballast := filepath.Join(disk, "ballast")
	var acked []journal.Entry
	for round := range 3 {
		if err := os.WriteFile(ballast, make([]byte, 1<<20), 0o600); err != nil && !errors.Is(err, unix.ENOSPC) {
			t.Fatal(err)
		}
		var full []journal.Draft
		for full == nil {
			drafts := season(20, len(acked))
			es, err := s.Append(t.Context(), drafts)
			switch {
			case err == nil:
				acked = append(acked, es...)
			case fault.CodeOf(err) == fault.NotSaved && strings.Contains(err.Error(), "The disk is full"):
				full = drafts
			default:
				t.Fatalf("round %d: %v", round, err)
			}
		}
		if got := storetest.ReadAll(t, s, 0); len(got) < len(acked) {
			t.Fatalf("round %d: %d of %d acknowledged entries", round, len(got), len(acked))
		}
		if err := os.Remove(ballast); err != nil {
			t.Fatal(err)
		}
		for range 1 + 5*round {
			acked = append(acked, storetest.Append(t, s, full)...)
			full = season(20, len(acked))
		}
		storetest.Sound(t, s, len(acked))
	}
	t.Logf("%d entries acknowledged", len(acked))
}

// smallDisk mounts a file system of its own in memory, or says why it cannot and skips.
func smallDisk(t *testing.T, bytes int) string {
	t.Helper()
	if runtime.GOOS != "linux" || os.Geteuid() != 0 {
		t.Skip("not tested here: mounting a small file system needs Linux and root")
	}
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", fmt.Sprintf("size=%d", bytes), "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("not tested here: this machine does not let a test mount a small file system: %s", out)
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", "-l", dir).CombinedOutput(); err != nil {
			t.Errorf("umount: %s", out)
		}
	})
	return dir
}

// A journal can be read from a disk that cannot be written, such as a locked memory card.
func TestReadOnlyMedium(t *testing.T) {
	disk := smallDisk(t, 16<<20)
	dir := filepath.Join(disk, "data")
	s := openTest(t, dir, Options{})
	rich(t, s, 50)
	s.Close()
	if out, err := exec.Command("mount", "-o", "remount,ro", disk).CombinedOutput(); err != nil {
		t.Skipf("not tested here: the small file system cannot be made read only: %s", out)
	}
	storetest.Sound(t, openTest(t, dir, Options{ReadOnly: true}), 55)
	if _, err := Open(t.Context(), dir, Options{}); fault.CodeOf(err) != fault.Unavailable {
		t.Errorf("writing there: %v", err)
	}
}
