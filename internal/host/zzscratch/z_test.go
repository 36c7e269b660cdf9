package zz
import ("testing";"context";"time";"fmt";"icehand/internal/sim";"icehand/internal/keep/mem";"icehand/internal/keep/store";"icehand/internal/host/desk";"icehand/internal/host/say";"icehand/internal/engine/advise";"icehand/internal/base/geo";"github.com/google/uuid";"math";"icehand/internal/trade/lake")
var marks=[]lake.Marks{lake.None,lake.Few,lake.Many}
func TestZ(t *testing.T){
 ctx:=context.Background()
 t0:=time.Now()
 demo,err:=sim.NewDemo(15); if err!=nil{t.Fatal(err)}
 fmt.Println("newdemo",time.Since(t0)); t0=time.Now()
 st:=mem.New(store.Identity{Outfit:uuid.UUID{1},Account:uuid.UUID{2},Journal:uuid.UUID{3},Epoch:uuid.UUID{4}})
 if err:=demo.Fill(ctx,st);err!=nil{t.Fatal(err)}
 fmt.Println("fill",time.Since(t0)); t0=time.Now()
 now:=demo.Now
 here:=geo.NewFrame(demo.Lake.Frame.Origin()).Local(demo.Scout)
 d,err:=desk.Open(ctx,st,desk.Options{Seed:15,Clock:func()time.Time{return now},Position:func(time.Time)advise.Place{return advise.Place{At:here,Known:true,Accuracy:4,Fixed:now}}}); if err!=nil{t.Fatal(err)}
 fmt.Println("open",time.Since(t0)); t0=time.Now()
 s,err:=d.Next(ctx,nil); if err!=nil{t.Fatal(err)}
 fmt.Println("next first",time.Since(t0)); t0=time.Now()
 var v say.Voice
 d.Read(ctx,func(x desk.View)error{ v=say.Voice{Zone:x.Lake.Zone,Now:x.Now,Hole:func(id uuid.UUID)string{ if h:=x.Lake.Hole(id);h!=nil{return say.HoleName(h,x.Today)};return ""}}; fmt.Println("facts",len(x.Log.Facts()),"holes",len(x.Lake.Holes),"left",len(x.Lake.Left)); return nil})
 fmt.Printf("%+v\n",v.Step(s))
 tb,_:=d.TurnBack(ctx); fmt.Printf("%+v\n",v.TurnBack(tb))
 now=now.Add(2*time.Minute); t0=time.Now()
 s,err=d.Next(ctx,nil); fmt.Println("next again",time.Since(t0)); t0=time.Now()
 m,err:=d.Odds(ctx); if err!=nil{t.Fatal(err)}
 mx,sum,n:=0.0,0.0,0; for _,p:=range m.P{ if !math.IsNaN(p){ if p>mx{mx=p}; sum+=p;n++}}
 fmt.Println("odds",time.Since(t0),m.Grid,"max",mx,"mean",sum/float64(n)); t0=time.Now()
 e,err:=d.Evening(ctx,"2026-01-16"); fmt.Println("evening",time.Since(t0),err)
 et:=v.Evening(e); fmt.Printf("%+v\n",et)
 lines,_,_:=d.Contours(ctx,nil); _=lines
 for i:=0;i<12;i++{
  fmt.Println(now.In(v.Zone).Format("15:04"), v.Step(s).Sentence,"|",v.Step(s).Reason,"|",v.Step(s).Facts,"|",v.Step(s).Ice, s.Plain)
  if s.Do!=advise.Drill&&s.Do!=advise.Look {break}
  here=s.To; now=now.Add(time.Duration(s.Cost.Minutes*float64(time.Minute)))
  p:=advise.Place{At:here,Known:true,Accuracy:4,Fixed:now}
  mk:=0; if i==4{mk=2}
  t0=time.Now()
  if _,err:=d.Look(ctx,desk.LookAct{Hole:desk.HoleRef{Place:&p},Marks: marks[mk]}); err!=nil{t.Fatal(err)}
  s,err=d.Next(ctx,nil); if err!=nil{t.Fatal(err)}
  v.Now=now
  fmt.Println("   took",time.Since(t0))
 }
}
