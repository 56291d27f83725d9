package table
import ("testing";"fmt";"sightrail/formats")
func BenchmarkBookTmp(b *testing.B){
 rows:=[][]Cell{}
 for i:=range 100000 { rows=append(rows,cells(fmt.Sprintf("p%d||1.%03d||50.1|",i,i%1000))) }
 for b.Loop(){ d:=&formats.Document{}; x:=New(d,formats.Pos{},formats.Options{}); x.Row(1,cells("Point|BS (m)|IS (m)|FS (m)|RL|Remarks")); for i,r:=range rows{ x.Row(i+2,r)}; x.Close()}
}
