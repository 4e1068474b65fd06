import sys, json, time, collections
from concurrent.futures import ProcessPoolExecutor
import numpy as np
from tests.study.circuit import CannotFill
from tests.study.regimes import REGIMES, LIMIT
from leakdown.judge.analyse import analyse
from leakdown.judge.limits import parse_limit
from leakdown.judge.settings import Settings
ODD={"levels-off","step","leak-shrinks","leak-grows","creep","no-fit"}

def one(job):
    name, seed = job
    zlib = __import__("zlib").crc32(name.encode())
    for again in range(20):
        try:
            drawn = REGIMES[name](np.random.default_rng([zlib, seed, again]), seed); break
        except CannotFill:
            pass
    t=time.perf_counter()
    try:
        r = analyse(drawn.recording, Settings(limit=parse_limit(LIMIT)))
    except Exception as e:
        return dict(seed=seed, error=f"{type(e).__name__}: {e}", over=drawn.over)
    ms=1e3*(time.perf_counter()-t)
    out=dict(seed=seed, ms=ms, over=drawn.over, rate=drawn.rate_pa_s, word=r.verdict.word if r.verdict else None, odd=sorted({f.code for f in r.flags}&ODD), sized=r.leak is not None)
    if r.leak:
        i=r.leak.rate_pa_s
        out.update(value=i.value, low=i.low, high=i.high, det=r.leak.detection_rate_pa_s, detected=r.leak.detected)
    if r.verdict and r.verdict.measured: out.update(drop=[r.verdict.measured.low, r.verdict.measured.value, r.verdict.measured.high])
    return out

def summary(name, rows):
    n=len(rows); err=[r for r in rows if "error" in r]; rows=[r for r in rows if "error" not in r]
    words=collections.Counter(r["word"] for r in rows)
    line=f"{name:18s} n={n}"
    if err: line+=f" ERR={len(err)}"
    sized=[r for r in rows if r.get("sized")]
    if any(r.get("rate") for r in sized):
        v=[r for r in sized if r["value"] is not None]
        e=[abs(r["value"]/r["rate"]-1) for r in v]; w=[(r["high"]-r["low"])/r["value"] for r in v]
        held=[r["low"]<=r["rate"]*1.0000001 and r["rate"]<=r["high"] for r in sized]
        line+=f" sized={len(v)} med={100*np.median(e):.2f}% p95={100*np.quantile(e,.95):.1f}% held={100*np.mean(held):.1f} width={100*np.median(w):.1f}%"
    elif any(r.get("rate")==0.0 for r in sized):
        line+=f" given-leak={sum(r['detected'] for r in sized)} med-upper={np.median([r['high'] for r in sized])*60/1e3:.3f} det={np.median([r['det'] for r in sized])*60/1e3:.3f}kPa/min"
    line+=f" unsized={len(rows)-len(sized)} odd={sum(bool(r['odd']) for r in rows)} {dict(collections.Counter(c for r in rows for c in r['odd']))} words={dict(words)} ms={np.median([r['ms'] for r in rows]):.0f}/{np.max([r['ms'] for r in rows]):.0f}"
    return line
if __name__=="__main__":
    count=int(sys.argv[1]); names=sys.argv[2].split(",") if len(sys.argv)>2 and sys.argv[2]!="all" else list(REGIMES)
    dump=sys.argv[3] if len(sys.argv)>3 else None
    allr={}
    with ProcessPoolExecutor(2) as pool:
        for name in names:
            rows=list(pool.map(one, [(name,s) for s in range(count)], chunksize=2))
            allr[name]=rows; print(summary(name, rows), flush=True)
    if dump: json.dump(allr, open(dump,"w"))
