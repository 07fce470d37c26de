#![allow(missing_docs)]
#[test]
fn tune() {
    let t = demo::island::terrain();
    let h = |x: f64, y: f64| t.value(raster::Cell{col:(x*1e3/30.0) as usize,row:799-((y*1e3/30.0) as usize)});
    for (n,x,y) in [("kettle",6.1,6.4),("saddle",12.0,11.9),("thrum",17.3,17.2),("silo",18.1,5.9)] {
        let mut best=(0.0,0.0,0.0f32);
        let mut i=-40; while i<=40 { let mut j=-40; while j<=40 { let (a,b)=(x+i as f64*0.03,y+j as f64*0.03); let v=h(a,b); if v>best.2 {best=(a,b,v);} j+=1;} i+=1;}
        println!("{n} {} best {:.2},{:.2} {}",h(x,y),best.0,best.1,best.2);
    }
    for y in (0..24).rev() { let mut l=String::new(); for x in 0..24 { l+=&format!("{:4.0}",h(x as f64+0.5,y as f64+0.5)); } println!("{y:2} {l}"); }
}
