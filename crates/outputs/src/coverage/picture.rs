//! The grid alone as a picture, one pixel a cell.

use raster::{CellXy, Georeference, Grid};

use super::CoverageError;
use super::quantity::Quantity;

/// The grid as PNG, one pixel a cell in the colour of its class, no data
/// transparent. With [`world_file`] beside it other programs place it.
pub fn map_png(grid: &Grid, quantity: &Quantity) -> Result<Vec<u8>, CoverageError> {
    let classes = grid.cells().iter().map(|v| quantity.class_of(*v));
    Ok(classes_png(
        classes,
        (grid.width(), grid.height()),
        quantity,
    )?)
}

/// Classes, row by row, as PNG: indexed where a byte can tell them apart.
pub(super) fn classes_png(
    classes: impl Iterator<Item = Option<usize>>,
    (width, height): (usize, usize),
    quantity: &Quantity,
) -> Result<Vec<u8>, png::EncodingError> {
    let count = quantity.classes.len();
    let colour = |class: usize| quantity.classes[class].colour;
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width as u32, height as u32);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::High);
    let pixels: Vec<u8> = if count < 256 {
        encoder.set_color(png::ColorType::Indexed);
        // The first entry is no data, so that only one opacity is stored.
        let palette = [255; 3].into_iter().chain((0..count).flat_map(colour));
        encoder.set_palette(palette.collect::<Vec<u8>>());
        encoder.set_trns(vec![0]);
        classes.map(|c| c.map_or(0, |c| c as u8 + 1)).collect()
    } else {
        encoder.set_color(png::ColorType::Rgba);
        let rgba = |class: Option<usize>| match class.map(colour) {
            Some([r, g, b]) => [r, g, b, 255],
            None => [0; 4],
        };
        classes.flat_map(rgba).collect()
    };
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&pixels)?;
    writer.finish()?;
    Ok(bytes)
}

/// The six lines that place a picture of one pixel a cell: steps, then the
/// middle of the first cell, in the grid's own system.
pub fn world_file(georeference: &Georeference) -> String {
    let affine = georeference.affine();
    let [x_col, x_row, y_col, y_row] = affine.steps();
    let first = affine.to_map(CellXy { col: 0.5, row: 0.5 });
    format!(
        "{x_col}\n{y_col}\n{x_row}\n{y_row}\n{}\n{}\n",
        first.x, first.y
    )
}
