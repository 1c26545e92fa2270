"""Evaluations that the package cma (BIPOP restarts, box, default options) needs to come within a thousandth of the optimum."""
import sys, math, warnings
warnings.filterwarnings("ignore")
import numpy as np, cma

def rosenbrock(x): return float(np.sum(100*(x[1:]-x[:-1]**2)**2+(1-x[:-1])**2))
def rastrigin(x): return float(10*len(x)+np.sum(x*x-10*np.cos(2*math.pi*x)))
def ackley(x):
    n=len(x); return float(-20*math.exp(-0.2*math.sqrt(np.sum(x*x)/n))-math.exp(np.sum(np.cos(2*math.pi*x))/n)+20+math.e)
def griewank(x): return float(np.sum(x*x)/4000-np.prod(np.cos(x/np.sqrt(np.arange(1,len(x)+1))))+1)
def schwefel(x): return float(418.9829*len(x)-np.sum(x*np.sin(np.sqrt(np.abs(x)))))
def powell(x): return float((x[0]+10*x[1])**2+5*(x[2]-x[3])**2+(x[1]-2*x[2])**4+10*(x[0]-x[3])**4)
def goldstein(x):
    a,b=x
    return (1+(a+b+1)**2*(19-14*a+3*a*a-14*b+6*a*b+3*b*b))*(30+(2*a-3*b)**2*(18-32*a+12*a*a+48*b-36*a*b+27*b*b))
def branin(x):
    a,b=x
    return (b-5.1/(4*math.pi**2)*a*a+5/math.pi*a-6)**2+10*(1-1/(8*math.pi))*math.cos(a)+10

problems=[("rosenbrock-5",rosenbrock,[-5]*5,[10]*5,1e-3),("rastrigin-4",rastrigin,[-5.12]*4,[5.12]*4,1e-3),
 ("ackley-6",ackley,[-32.768]*6,[32.768]*6,1e-3),("griewank-5",griewank,[-600]*5,[600]*5,1e-3),
 ("schwefel-4",schwefel,[-500]*4,[500]*4,1e-3),("powell-singular",powell,[-4]*4,[5]*4,1e-3),
 ("goldstein-price",goldstein,[-2,-2],[2,2],3.003),("branin",branin,[-5,0],[10,15],0.397887+1e-3)]
seeds,rows=int(sys.argv[1]),40000
print("cma",cma.__version__.split()[0],"numpy",np.__version__)
for name,f,lo,hi,target in problems:
    lo,hi=np.array(lo,float),np.array(hi,float)
    needed,spent=[],0
    for seed in range(1,seeds+1):
        rng=np.random.default_rng(seed)
        count=[0]; hit=[None]
        def g(x):
            count[0]+=1
            v=f(np.asarray(x))
            if hit[0] is None and v<=target: hit[0]=count[0]
            return v
        np.random.seed(seed)
        cma.fmin2(g,lambda: lo+(hi-lo)*rng.random(len(lo)),0.3*float(hi[0]-lo[0]),
            options=dict(bounds=[list(lo),list(hi)],CMA_stds=list((hi-lo)/(hi[0]-lo[0])),maxfevals=rows,ftarget=target,verbose=-9,seed=seed),restarts=30,bipop=True)
        needed.append(hit[0] if hit[0] and hit[0]<=rows else rows+1)
        spent+=min(needed[-1],rows)
    hits=sum(n<=rows for n in needed)
    print(f"{name:16s} successes {hits:2d}/{seeds} median {sorted(needed)[seeds//2]:6d} spent/success {spent/max(hits,1):9.0f}",flush=True)
