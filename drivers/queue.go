package drivers

import "sync"

// reportQueue is a bounded queue with a policy for when it is full: the oldest
// snapshot goes, then the oldest event or bad frame. Among hellos and downs
// alone, a hello or down replaces the newest, for it is the state of the line
// now that counts, and anything else is not let in. A pump hands the front to the
// channel, so that order is kept whoever reads.
type reportQueue struct {
	out  chan Report
	wake chan struct{}
	end  chan struct{}
	gone chan struct{}

	mu      sync.Mutex
	items   []Report // fixed capacity
	dropped uint64
	hellos  int // in items or in the pump's hand
}

func newReportQueue(size int) *reportQueue {
	q := &reportQueue{
		out:   make(chan Report),
		wake:  make(chan struct{}, 1),
		end:   make(chan struct{}),
		gone:  make(chan struct{}),
		items: make([]Report, 0, size),
	}
	go q.pump()
	return q
}

func (q *reportQueue) close() {
	close(q.end)
	<-q.gone
}

func (q *reportQueue) droppedSoFar() uint64 {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.dropped
}

// helloWaits reports whether a hello was put that nobody has taken yet.
func (q *reportQueue) helloWaits() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.hellos > 0
}

// put never blocks.
func (q *reportQueue) put(r *Report) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.items) == cap(q.items) {
		q.dropped++
		victim := q.victim(r.Kind)
		if victim < 0 {
			return
		}
		if q.items[victim].Kind == ReportHello {
			q.hellos--
		}
		q.remove(victim)
	}
	q.items = append(q.items, *r)
	if r.Kind == ReportHello {
		q.hellos++
	}
	select {
	case q.wake <- struct{}{}:
	default: // the pump is awake already
	}
}

// victim is the report that makes room for one of kind; -1: that one itself.
func (q *reportQueue) victim(kind ReportKind) int {
	other := -1
	for i := range q.items {
		switch q.items[i].Kind {
		case ReportSnapshot:
			return i
		case ReportEvent, ReportBad:
			if other < 0 {
				other = i
			}
		}
	}
	if other < 0 && (kind == ReportHello || kind == ReportDown) {
		return len(q.items) - 1
	}
	return other
}

func (q *reportQueue) remove(i int) {
	q.items = append(q.items[:i], q.items[i+1:]...)
}

func (q *reportQueue) front(r *Report) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.items) == 0 {
		return false
	}
	*r = q.items[0]
	q.remove(0)
	return true
}

// taken notes that r has reached the reader.
func (q *reportQueue) taken(r *Report) {
	if r.Kind != ReportHello {
		return
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	q.hellos--
}

// pump ends with close, which drops what nobody took.
func (q *reportQueue) pump() {
	defer close(q.gone)
	defer close(q.out)
	var r Report
	for {
		for q.front(&r) {
			select {
			case q.out <- r:
				q.taken(&r)
			case <-q.end:
				return
			}
		}
		select {
		case <-q.wake:
		case <-q.end:
			return
		}
	}
}
