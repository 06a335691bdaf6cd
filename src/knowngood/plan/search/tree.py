"""Prototype of batched AO* between bounds for small problems."""
from __future__ import annotations
import numpy as np
from knowngood.plan.search.problem import *
from knowngood.plan.search.problem import Standing, moved, move_cost

INF = np.inf

class Model:
    def __init__(self, problem):
        self.p = problem
        self.N = len(problem.sets); self.T=len(problem.tests); self.R=len(problem.remedies)
        self.A=self.T+self.R+2
        self.bad = np.array([1-problem.sets.ok(t) for t in range(self.T)]).reshape(self.T,self.N).T.copy()
        eye=np.eye(self.N)
        self.rm = np.array([problem.sets.remedied(eye,r) for r in range(self.R)]).reshape(self.R,self.N,self.N)
        K=len(problem.compartments)
        self.open_t=np.array([problem.opening(b) for b in range(1<<K)])
        self.close_t=np.array([problem.closing(b) for b in range(1<<K)])
        self.way=np.array([problem.way(m) for m in range(self.T+self.R)],dtype=np.int64)
        self.rcost=np.array([r.cost for r in problem.remedies]); self.tcost=np.array([t.cost for t in problem.tests])
        self.intro=any(r.introduces for r in problem.remedies)
        self.weight=[self.R+1 if r.introduces else 1 for r in problem.remedies]
        self.ids={}; self.conf=[]; self.F=[];
        self.cost=[]; self.next=[]; self.legal=[]; self.lev=[]
        self.Fm={}
    def known(self,spent,opened):
        key=(spent,opened)
        f=self.Fm.get(key)
        if f is not None: return f
        p=self.p
        f=np.full(self.N,p.give_up)
        for r in range(self.R):
            if spent>>r&1: continue
            w=int(self.way[self.T+r])
            s2=spent&~p.renews[r]|1<<r; o2=opened|w
            g=self.rm[r]@self.known(s2,o2)+self.rcost[r]+self.open_t[w&~opened]
            g[0]=INF
            np.minimum(f,g,out=f)
        f[0]=min(p.give_up,p.check_cost+self.close_t[opened])
        self.Fm[key]=f
        return f
    def config(self,spent,opened):
        key=(spent,opened)
        i=self.ids.get(key)
        if i is None:
            i=self.ids[key]=len(self.conf); self.conf.append(key)
            p=self.p
            self.F.append(self.known(spent,opened))
            need=self.way&~opened
            c=np.empty(self.A)
            c[:self.T]=self.tcost; c[self.T:self.T+self.R]=self.rcost
            c[:self.T+self.R]+=self.open_t[need]
            c[p.check]=p.check_cost+(0 if p.check_open else self.close_t[opened])
            c[p.giving_up]=p.give_up
            self.cost.append(c)
            leg=np.ones(self.A,bool)
            for r in range(self.R):
                if spent>>r&1: leg[self.T+r]=False
            self.legal.append(leg)
            self.lev.append(sum(self.weight[r] for r in range(self.R) if spent>>r&1))
            self.next.append(None)
        return i
    def nexts(self,i):
        if self.next[i] is None:
            spent,opened=self.conf[i]; p=self.p
            n=np.empty(self.A,dtype=np.int64)
            for t in range(self.T): n[t]=self.config(spent,opened|int(self.way[t]))
            for r in range(self.R):
                n[self.T+r]=self.config(spent&~p.renews[r]|1<<r,opened|int(self.way[self.T+r])) if not spent>>r&1 else i
            n[p.check]=self.config(spent,opened if p.check_open else 0)
            n[p.giving_up]=i
            self.next[i]=n
        return self.next[i]

def chain(M,B,confs,unchecked):
    """exact cost of greedy chain, rows."""
    p=M.p; m=len(B); R=M.R
    rows=np.arange(m)
    spent=np.zeros((m,R),bool); opened=np.zeros(m,np.int64)
    for k,i in enumerate(confs):
        s,o=M.conf[i]; opened[k]=o
        for r in range(R):
            if s>>r&1: spent[k,r]=True
    W=B.copy()
    R0=M.rm[:,:,0].T  # N,R
    sizes=(p.sets.members<len(p.priors)).sum(1)
    left=(M.rm@sizes.astype(float)).T - sizes[:,None] # N,R  negative = removed
    way=M.way[M.T:]
    first=opened.copy()
    masses=[1-W[:,0]]; costs=[]; ways=[]; opened_k=[opened.copy()]; own=[]
    if M.intro:
        pass
    steps=min(R+2,14)
    mass0=W.sum(1)
    Ws=[W]
    alive=np.ones(m,bool)
    renew=np.zeros((R,R),bool)
    for r in range(R):
        for q in range(R): renew[r,q]=bool(p.renews[r]>>q&1)
    if M.intro:
        # check after each remedy. unchecked start: first check at once optional -> ignore (check as part of the first)
        W=B.copy()
        G=[];seq=[]
        start_mass=W.sum(1)
        for k in range(steps):
            mass=W.sum(1)
            need=way[None,:]&~opened[:,None]
            c=M.rcost+M.open_t[need]+p.check_cost+(0 if p.check_open else M.close_t[opened[:,None]|way])
            gain=W@R0-W[:,[0]]*0
            gain=gain+0.25*np.maximum(-(W@left),0)
            sc=np.where(spent,-1,gain/np.maximum(c,1e-9))
            r=sc.argmax(1)
            ok=sc[rows,r]>0
            W2=np.einsum('mn,mnk->mk',W,M.rm[r])
            op2=opened|way[r]
            succ=W2[:,0].copy()
            stepc=mass*c[rows,r]+(succ*M.close_t[op2] if p.check_open else 0)
            W2[:,0]=0
            seq.append((mass,stepc,ok))
            spent=spent.copy()
            spent&=~renew[r]; spent[rows,r]=True
            opened=op2 if p.check_open else np.zeros(m,np.int64)
            W=W2
        V=W.sum(1)*p.give_up
        for mass,stepc,ok in reversed(seq):
            V=np.minimum(mass*p.give_up,np.where(ok,stepc+V,INF))
        return V
    W=B.copy()
    masses=[W.sum(1)-W[:,0]]; own=[];wy=[];oks=[]
    op=opened.copy()
    for k in range(min(R,14)):
        need=way[None,:]&~op[:,None]
        c=M.rcost+M.open_t[need]+p.check_cost+(0 if p.check_open else M.close_t[way])
        V=W.copy(); V[:,0]=0
        gain=V@R0+0.25*np.maximum(-(V@left),0)
        sc=np.where(spent,-1,gain/np.maximum(c,1e-9))
        r=sc.argmax(1); ok=sc[rows,r]>0
        W=np.where(ok[:,None],np.einsum('mn,mnk->mk',W,M.rm[r]),W)
        spent[rows,r]=True
        own.append(np.where(ok,M.rcost[r],0)); wy.append(np.where(ok,way[r],0)); oks.append(ok)
        op=op|wy[-1]
        masses.append(1-W[:,0])
    # masses[k] = P(not working after k) ; DP
    n=len(own)
    G=[None]*(n+1)
    succ0=np.where(unchecked,B[:,0],0)
    alive=[np.ones(m) if False else masses[k] for k in range(n+1)]
    total0=np.ones(m)
    G[n]=masses[n]*p.give_up
    for i in range(n-1,-1,-1):
        here=total0 if i==0 else masses[i]
        best=here*p.give_up
        if i==0 or not p.check_open: base=first if i==0 else np.zeros(m,np.int64)
        else:
            base=first.copy()
            for k in range(i): base|=wy[k]
        u=base.copy(); acc=np.zeros(m)
        if i==0:
            # check at once
            cc=np.where(unchecked, here*p.check_cost+(here*M.close_t[u] if not p.check_open else (1-masses[0])*M.close_t[u])+0, INF)
            # after it (closed: re-opening ignored path handled by using G with base 0)
            pass
        for j in range(i+1,n+1):
            acc=acc+own[j-1]+M.open_t[wy[j-1]&~u]; u=u|wy[j-1]
            if p.check_open:
                v=here*(acc+p.check_cost)+(here-masses[j])*M.close_t[u]+G[j]
            else:
                v=here*(acc+p.check_cost+M.close_t[u])+G[j]
            best=np.minimum(best,v)
        G[i]=best
    return G[0]

class Search:
    def __init__(self,M,belief,standing,cap=4000):
        self.M=M; A=M.A
        self.n=0; self.cap=0
        self.grow(1024)
        self.key={}
        self.levels={}
        i=self.make([belief],[M.config(standing.spent,standing.opened)],[standing.made],[standing.unchecked])
        self.root=i[0]
        self.expanded=0
    def grow(self,cap):
        M=self.M;A=M.A
        def g(name,shape,dt,fill):
            a=np.full((cap,)+shape,fill,dt)
            if self.n: a[:self.n]=getattr(self,name)[:self.n]
            setattr(self,name,a)
        g('B',(M.N,),float,0); g('made',(),np.int64,0); g('conf',(),np.int64,0); g('unch',(),bool,False); g('lev',(),np.int64,0)
        g('lo',(),float,0); g('hi',(),float,INF); g('P',(A,),float,0); g('C',(A,),float,INF); g('k0',(A,),np.int32,-1); g('k1',(A,),np.int32,-1); g('Q',(A,),float,INF)
        g('chain',(),float,INF)
        self.cap=cap
    def make(self,Bs,confs,mades,unchs):
        """create (and expand) nodes; returns ids"""
        M=self.M;p=M.p
        ids=[];new=[]
        for b,c,md,un in zip(Bs,confs,mades,unchs):
            k=(np.round(b,9).tobytes(),c,md,un)
            i=self.key.get(k)
            if i is None:
                if self.n==self.cap: self.grow(self.cap*2)
                i=self.n; self.n+=1; self.key[k]=i
                self.B[i]=b; self.conf[i]=c; self.made[i]=md; self.unch[i]=un
                self.lev[i]=2*(int(md).bit_count()+M.lev[c])+(not un)
                self.levels.setdefault(int(self.lev[i]),[]).append(i)
                new.append(i)
            ids.append(i)
        if new: self.expand(np.array(new))
        return ids
    def expand(self,x):
        M=self.M;p=M.p;T,R=M.T,M.R
        B=self.B[x]; conf=self.conf[x]
        nx=np.array([M.nexts(c) for c in conf]); C=np.array([M.cost[c] for c in conf]); leg=np.array([M.legal[c] for c in conf])
        F=np.array(M.F)
        Q=np.full((len(x),M.A),INF)
        P=np.zeros((len(x),M.A))
        if T:
            P[:,:T]=B@M.bad
            Q[:,:T]=C[:,:T]+np.einsum('mn,mtn->mt',B,F[nx[:,:T]])
            leg[:,:T]&=(self.made[x][:,None]>>np.arange(T)&1)==0
            leg[:,:T]&=(P[:,:T]>1e-12)&(P[:,:T]<1-1e-12)
        BR=np.einsum('mn,rnk->mrk',B,M.rm)
        Q[:,T:T+R]=C[:,T:T+R]+np.einsum('mrk,mrk->mr',BR,F[nx[:,T:T+R]])
        P[:,T:T+R]=1
        leg[:,T:T+R]&=np.abs(BR-B[:,None,:]).max(2)>1e-12
        w=B[:,0]
        ck=p.check
        C[:,ck]+=(w*M.close_t[[M.conf[c][1] for c in conf]] if p.check_open else 0)
        P[:,ck]=1-w
        Q[:,ck]=C[:,ck]+np.einsum('mn,mn->m',B,F[nx[:,ck]])-w*F[nx[:,ck],0]
        leg[:,ck]&=self.unch[x]&(w>0)
        Q[:,p.giving_up]=p.give_up; P[:,p.giving_up]=0
        Q[~leg]=INF
        self.P[x]=P; self.C[x]=C; self.Q[x]=Q
        self.lo[x]=np.maximum(self.lo[x],Q.min(1))
        h=np.minimum(p.give_up,chain(M,B,conf,self.unch[x]))
        # check first if unchecked and works-certain
        self.chain[x]=h; self.hi[x]=h
        self.lo[x]=np.minimum(self.lo[x],h)
    def kids(self,i,a):
        M=self.M;p=M.p;T=M.T
        b=self.B[i]; c=self.conf[i]; n=M.nexts(c)[a]; md=int(self.made[i]); un=bool(self.unch[i])
        if a<T:
            bb=b*M.bad[:,a]; P=bb.sum(); ok=b-bb
            return [(bb/P,n,md|1<<a,un),(ok/ok.sum(),n,md|1<<a,un)]
        if a<p.check:
            return [(b@M.rm[a-T],n,md,True)]
        bb=b.copy();bb[0]=0
        s=bb.sum()
        return [(bb/s,n,md,False)] if s>1e-12 else []
    def step(self,limit):
        """one round: find tips of best graph and create children"""
        M=self.M
        mark=np.zeros(self.n); mark[self.root]=1
        todo=[]
        for L in sorted(self.levels):
            ids=np.array(self.levels[L]); ids=ids[mark[ids]>0]
            if not len(ids): continue
            ids=ids[self.hi[ids]-self.lo[ids]>1e-9]
            if not len(ids): continue
            a=self.Q[ids].argmin(1)
            k0=self.k0[ids,a]; k1=self.k1[ids,a]
            rp=mark[ids]; P=self.P[ids,a]
            has=k0>=0
            np.add.at(mark,k0[has],(rp*P)[has])
            h1=k1>=0
            np.add.at(mark,k1[h1],(rp*(1-P))[h1])
            t=~has
            for i,aa,r in zip(ids[t],a[t],rp[t]):
                if aa!=M.p.giving_up: todo.append((-r*(self.hi[i]-self.lo[i]),i,aa))
        if not todo: return 0
        todo.sort(); todo=todo[:limit]
        Bs=[];cs=[];ms=[];us=[];slots=[]
        for _,i,a in todo:
            for j,(b,c,m,u) in enumerate(self.kids(i,a)):
                Bs.append(b);cs.append(c);ms.append(m);us.append(u);slots.append((i,a,j))
        ids=self.make(Bs,cs,ms,us)
        for (i,a,j),k in zip(slots,ids):
            if j==0: self.k0[i,a]=k
            else: self.k1[i,a]=k
        return len(todo)
    def backup(self):
        M=self.M
        for L in sorted(self.levels,reverse=True):
            ids=np.array(self.levels[L])
            k0=self.k0[ids]; 
            ii,aa=np.nonzero(k0>=0)
            if not len(ii): continue
            g=ids[ii]
            k0=k0[ii,aa]; k1=self.k1[g,aa]; P=self.P[g,aa]; C=self.C[g,aa]
            l1=np.where(k1>=0,self.lo[k1],0); h1=np.where(k1>=0,self.hi[k1],0)
            q1=np.where(k1>=0,1-P,0)
            ql=C+P*self.lo[k0]+q1*l1
            qh=C+P*self.hi[k0]+q1*h1
            self.Q[g,aa]=np.maximum(self.Q[g,aa],ql)
            lo=self.Q[ids].min(1)
            hi=self.hi.copy() if False else None
            np.minimum.at(self.hi,g,qh)
            self.lo[ids]=np.minimum(np.maximum(self.lo[ids],lo),self.hi[ids])
    def run(self,budget,batch=64):
        while self.n<budget and self.hi[self.root]-self.lo[self.root]>1e-9*max(1,self.hi[self.root]):
            k=self.step(batch)
            if not k: break
            self.backup()
        return self.lo[self.root],self.hi[self.root]
