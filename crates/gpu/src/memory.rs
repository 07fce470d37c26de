//! What lies in the memory of the graphics processor, kept from run to run
//! where it fits.

use rayon::prelude::*;
use wgpu::{
    BindGroup, BindGroupDescriptor, BindGroupEntry, BindingResource, Buffer, BufferBinding,
    BufferDescriptor, BufferUsages, CommandEncoder, Device, Extent3d, MapMode, Sampler,
    SamplerDescriptor, TexelCopyBufferInfo, TexelCopyBufferLayout, Texture, TextureDescriptor,
    TextureDimension, TextureFormat, TextureUsages, TextureViewDescriptor,
};

use crate::adapter::Gpu;
use crate::pieces::Piece;
use crate::run::GpuError;

/// Dispatches that may be under way at a time.
pub(crate) const SLOTS: usize = 3;

/// Rows of a dispatch lie this far apart, as dynamic offsets must.
pub(crate) const BAND_BYTES: usize = 256;

/// Rows of a raster written one after the other.
const ROWS_WRITTEN: usize = 48;

/// Sizes that buffers and textures are made for.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sizes {
    /// Width and height of elevation and cover.
    pub(crate) pieces: [[usize; 2]; 2],
    pub(crate) request: usize,
    pub(crate) fixed: usize,
    pub(crate) by_row: usize,
    pub(crate) bands: usize,
    /// Bytes of the answers of one dispatch.
    pub(crate) cells: usize,
}

/// All of it.
pub(crate) struct Memory {
    pub(crate) sizes: Sizes,
    pub(crate) elevation: Picture,
    pub(crate) cover: Picture,
    pub(crate) request: Buffer,
    pub(crate) fixed: Buffer,
    pub(crate) by_row: Buffer,
    pub(crate) bands: Buffer,
    pub(crate) band: BindGroup,
    pub(crate) slots: Vec<Slot>,
}

/// A raster and the buffer by which it comes.
pub(crate) struct Picture {
    texture: Texture,
    pub(crate) buffer: Buffer,
    pitch: usize,
    size: Extent3d,
}

/// The answers of one dispatch, there and here.
pub(crate) struct Slot {
    pub(crate) there: Buffer,
    pub(crate) here: Buffer,
    pub(crate) request: BindGroup,
}

impl Memory {
    /// Makes room.
    pub(crate) fn new(gpu: &Gpu, sizes: Sizes, pieces: [&Piece; 2]) -> Self {
        let device = &gpu.device;
        let buffer = |size: usize, usage| {
            device.create_buffer(&BufferDescriptor {
                label: None,
                size: size as u64,
                usage,
                mapped_at_creation: false,
            })
        };
        let written = |size, usage| buffer(size, usage | BufferUsages::COPY_DST);
        let [elevation, cover] = [
            Picture::new(device, pieces[0], TextureFormat::R32Float),
            Picture::new(device, pieces[1], TextureFormat::R32Uint),
        ];
        let request = written(sizes.request, BufferUsages::UNIFORM);
        let fixed = written(sizes.fixed, BufferUsages::STORAGE);
        let by_row = written(sizes.by_row, BufferUsages::STORAGE);
        let bands = written(sizes.bands, BufferUsages::UNIFORM);
        let sampler = device.create_sampler(&SamplerDescriptor::default());
        let parts = Parts {
            request: &request,
            fixed: &fixed,
            by_row: &by_row,
            elevation: &elevation,
            sampler: &sampler,
            cover: &cover,
        };
        let slots = (0..SLOTS).map(|_| {
            let there = buffer(sizes.cells, BufferUsages::STORAGE | BufferUsages::COPY_SRC);
            Slot {
                here: buffer(sizes.cells, BufferUsages::MAP_READ | BufferUsages::COPY_DST),
                request: parts.bind(gpu, &there),
                there,
            }
        });
        let one_band = BindingResource::Buffer(BufferBinding {
            buffer: &bands,
            offset: 0,
            size: wgpu::BufferSize::new(8),
        });
        Self {
            slots: slots.collect(),
            band: bind(device, &gpu.layouts[1], vec![one_band]),
            sizes,
            elevation,
            cover,
            request,
            fixed,
            by_row,
            bands,
        }
    }
}

/// What every dispatch reads.
struct Parts<'a> {
    request: &'a Buffer,
    fixed: &'a Buffer,
    by_row: &'a Buffer,
    elevation: &'a Picture,
    sampler: &'a Sampler,
    cover: &'a Picture,
}

impl Parts<'_> {
    fn bind(&self, gpu: &Gpu, cells: &Buffer) -> BindGroup {
        let view = |picture: &Picture| {
            let texture = &picture.texture;
            texture.create_view(&TextureViewDescriptor::default())
        };
        let [elevation, cover] = [view(self.elevation), view(self.cover)];
        let resources = vec![
            self.request.as_entire_binding(),
            self.fixed.as_entire_binding(),
            self.by_row.as_entire_binding(),
            BindingResource::TextureView(&elevation),
            BindingResource::Sampler(self.sampler),
            BindingResource::TextureView(&cover),
            cells.as_entire_binding(),
        ];
        bind(&gpu.device, &gpu.layouts[0], resources)
    }
}

fn bind(
    device: &Device,
    layout: &wgpu::BindGroupLayout,
    resources: Vec<BindingResource<'_>>,
) -> BindGroup {
    let entries: Vec<BindGroupEntry<'_>> = (0..)
        .zip(resources)
        .map(|(binding, resource)| BindGroupEntry { binding, resource })
        .collect();
    device.create_bind_group(&BindGroupDescriptor {
        label: None,
        layout,
        entries: &entries,
    })
}

impl Picture {
    fn new(device: &Device, piece: &Piece, format: TextureFormat) -> Self {
        let size = Extent3d {
            width: piece.width as u32,
            height: piece.height as u32,
            depth_or_array_layers: 1,
        };
        Self {
            texture: device.create_texture(&TextureDescriptor {
                label: None,
                size,
                mip_level_count: 1,
                sample_count: 1,
                dimension: TextureDimension::D2,
                format,
                usage: TextureUsages::TEXTURE_BINDING | TextureUsages::COPY_DST,
                view_formats: &[],
            }),
            buffer: device.create_buffer(&BufferDescriptor {
                label: None,
                size: (piece.pitch() * piece.height) as u64,
                usage: BufferUsages::MAP_WRITE | BufferUsages::COPY_SRC,
                mapped_at_creation: false,
            }),
            pitch: piece.pitch(),
            size,
        }
    }

    /// Fills the buffer row by row, many at a time. It must be asked for with
    /// [`Picture::ask`] before.
    pub(crate) fn fill(
        &self,
        row_of: impl Fn(usize, &mut Vec<u32>) + Sync,
    ) -> Result<(), GpuError> {
        let (pitch, height) = (self.pitch, self.size.height as usize);
        let parts = (0..height).step_by(ROWS_WRITTEN).map(|first| {
            let rows = first..(first + ROWS_WRITTEN).min(height);
            let bytes = (rows.start * pitch) as u64..(rows.end * pitch) as u64;
            let part = self.buffer.get_mapped_range_mut(bytes);
            Ok((rows, part.map_err(|e| GpuError::Driver(e.to_string()))?))
        });
        let parts = parts.collect::<Result<Vec<_>, GpuError>>()?;
        parts
            .into_par_iter()
            .for_each_init(Vec::new, |cells, (rows, mut part)| {
                for (i, row) in rows.enumerate() {
                    row_of(row, cells);
                    let bytes: &[u8] = bytemuck::cast_slice(cells);
                    part.slice(i * pitch..i * pitch + bytes.len())
                        .copy_from_slice(bytes);
                }
            });
        self.buffer.unmap();
        Ok(())
    }

    /// Asks for the buffer to be writable; it is once the device was polled.
    pub(crate) fn ask(&self) {
        // That it did not become so is seen when it is written.
        self.buffer.map_async(MapMode::Write, .., |_| {});
    }

    pub(crate) fn copy(&self, encoder: &mut CommandEncoder) {
        encoder.copy_buffer_to_texture(
            TexelCopyBufferInfo {
                buffer: &self.buffer,
                layout: TexelCopyBufferLayout {
                    offset: 0,
                    bytes_per_row: Some(self.pitch as u32),
                    rows_per_image: None,
                },
            },
            self.texture.as_image_copy(),
            self.size,
        );
    }
}
